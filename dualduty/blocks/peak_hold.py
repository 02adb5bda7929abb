"""Largest recent value, fading."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import IN3, OUT3, kernel
from dualduty.memory import Memory

Array = NDArray[np.float64]


@kernel(IN3, IN3, OUT3, OUT3)
def _peak_hold_kernel(x: Array, table: Array, state: Array, out: Array) -> None:
    for corner in range(x.shape[0]):
        for tick in range(x.shape[1]):
            for case in range(x.shape[2]):
                if state[0, corner, case] == 0.0:
                    state[0, corner, case] = 1.0
                    state[1, corner, case] = x[corner, tick, case]
                state[1, corner, case] = max(x[corner, tick, case], state[1, corner, case] * table[0, corner, case])
                out[corner, tick, case] = state[1, corner, case]


def peak_hold(level: Array, fade: float | Array, memory: Memory) -> Array:
    """Largest value so far, fading towards zero with time constant `fade`; starts on the first sample.

    level : (corner, time, case) array
        Non-negative quantity. [any]
    fade : float or (corner, 1, case) array
        Time constant of forgetting. [s]
    """
    return memory.advance(_peak_hold_kernel, (level,), lambda: (np.exp(-memory.dt / np.asarray(fade, float)),), 2)

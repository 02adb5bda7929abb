"""Count openings of a gate within the recent past."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import IN3, OUT3, kernel
from dualduty.memory import Memory

Array = NDArray[np.float64]


@kernel(IN3, IN3, OUT3, OUT3)
def _counter_kernel(x: Array, table: Array, state: Array, out: Array) -> None:
    # state: gate at the last tick, ticks since the last opening, count
    for corner in range(x.shape[0]):
        for tick in range(x.shape[1]):
            for case in range(x.shape[2]):
                opened = x[corner, tick, case] > 0.0
                state[1, corner, case] = min(state[1, corner, case] + 1.0, 1e12)
                if state[1, corner, case] > table[0, corner, case]:
                    state[2, corner, case] = 0.0
                if opened and state[0, corner, case] == 0.0:
                    state[1, corner, case] = 0.0
                    state[2, corner, case] += 1.0
                state[0, corner, case] = 1.0 if opened else 0.0
                out[corner, tick, case] = state[2, corner, case]


def counter(gate: Array, forget: float | Array, memory: Memory) -> Array:
    """Openings of `gate` so far; back to zero when none came for `forget`; starts at zero.

    gate : (corner, time, case) array
        Open above 0. [1]
    forget : float or (corner, 1, case) array
        Time without an opening after which the count starts anew. [s]
    """
    return memory.advance(_counter_kernel, (gate,), lambda: (np.round(np.asarray(forget, float) / memory.dt),), 3)

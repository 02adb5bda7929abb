"""Integral that forgets: what an accelerometer can say about speed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dualduty import cells
from dualduty.kernels import IN3, OUT3, kernel
from dualduty.memory import Memory

Array = NDArray[np.float64]


@kernel(IN3, IN3, OUT3, OUT3)
def _leaky_integral_kernel(x: Array, table: Array, state: Array, out: Array) -> None:
    for corner in range(x.shape[0]):
        for tick in range(x.shape[1]):
            for case in range(x.shape[2]):
                out[corner, tick, case] = cells.leaky_integral(
                    state[:, corner, case], 0, x[corner, tick, case], table[0, corner, case], table[1, corner, case]
                )


def leaky_integral(rate: Array, leak_hz: float | Array, memory: Memory) -> Array:
    """Integrate `rate` over time with a first-order leak; starts at zero.

    rate : (corner, time, case) array
        Rate of change of the wanted quantity. [any/s]
    leak_hz : float or (corner, 1, case) array
        Corner frequency below which the integral forgets; 0 never forgets. [Hz]

    Notes
    -----
    Exact for a held input: memory exp(-w dt) per tick, new share (1 - exp(-w dt)) / w, with w = 2 pi leak.
    """
    return memory.advance(_leaky_integral_kernel, (rate,), lambda: cells.leak(leak_hz, memory.dt), 1)

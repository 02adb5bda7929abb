"""First-order low-pass filter."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dualduty import cells
from dualduty.kernels import IN3, OUT3, kernel
from dualduty.memory import Memory

Array = NDArray[np.float64]


@kernel(IN3, IN3, OUT3, OUT3)
def _low_pass_kernel(x: Array, table: Array, state: Array, out: Array) -> None:
    for corner in range(x.shape[0]):
        for tick in range(x.shape[1]):
            for case in range(x.shape[2]):
                out[corner, tick, case] = cells.low_pass(state[:, corner, case], 0, x[corner, tick, case], table[0, corner, case])


def low_pass(wanted: Array, corner_hz: float | Array, memory: Memory) -> Array:
    """Follow `wanted` with a first-order lag; starts settled on the first sample.

    wanted : (corner, time, case) array
        What to follow. [any]
    corner_hz : float or (corner, 1, case) array
        Corner frequency, -3 dB. [Hz]

    Notes
    -----
    Exact for a held input: gain per tick 1 - exp(-2 pi f dt).
    """
    return memory.advance(_low_pass_kernel, (wanted,), lambda: (cells.share(corner_hz, memory.dt),), 2)

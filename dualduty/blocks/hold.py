"""Keep a gate open for a while after it closes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dualduty import cells
from dualduty.kernels import IN3, OUT3, kernel
from dualduty.memory import Memory

Array = NDArray[np.float64]


@kernel(IN3, IN3, OUT3, OUT3)
def _hold_kernel(x: Array, table: Array, state: Array, out: Array) -> None:
    for corner in range(x.shape[0]):
        for tick in range(x.shape[1]):
            for case in range(x.shape[2]):
                out[corner, tick, case] = cells.hold(state[:, corner, case], 0, x[corner, tick, case], table[0, corner, case])


def hold(gate: Array, time: float | Array, memory: Memory) -> Array:
    """1 while `gate` is above 0 and for `time` after; starts closed.

    gate : (corner, time, case) array
        Open above 0. [1]
    time : float or (corner, 1, case) array
        How long it stays open after the last open tick. [s]
    """
    return memory.advance(_hold_kernel, (gate,), lambda: (cells.ticks(time, memory.dt),), 1)

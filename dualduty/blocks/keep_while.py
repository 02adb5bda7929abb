"""Keep the last value while a gate is open."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dualduty import cells
from dualduty.kernels import IN3, OUT3, kernel
from dualduty.memory import Memory

Array = NDArray[np.float64]


@kernel(IN3, IN3, IN3, OUT3, OUT3)
def _keep_while_kernel(x: Array, gate: Array, _table: Array, state: Array, out: Array) -> None:
    for corner in range(x.shape[0]):
        for tick in range(x.shape[1]):
            for case in range(x.shape[2]):
                out[corner, tick, case] = cells.keep_while(state[:, corner, case], 0, x[corner, tick, case], gate[corner, tick, case])


def keep_while(value: Array, gate: Array, memory: Memory) -> Array:
    """`value`, but while `gate` is above 0 what it was when the gate opened; the first sample always passes.

    value : (corner, time, case) array
        [any]
    gate : (corner, time, case) array
        Holds above 0. [1]
    """
    return memory.advance(_keep_while_kernel, (value, gate), lambda: (0.0,), 2)

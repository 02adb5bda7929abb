"""Rate limit with separate rates up and down."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dualduty import cells
from dualduty.kernels import IN3, OUT3, kernel
from dualduty.memory import Memory

Array = NDArray[np.float64]


@kernel(IN3, IN3, OUT3, OUT3)
def slew_kernel(x: Array, table: Array, state: Array, out: Array) -> None:
    """Limit the step per tick to `table` rows rise and fall; state: started, last output."""
    for corner in range(x.shape[0]):
        for tick in range(x.shape[1]):
            for case in range(x.shape[2]):
                out[corner, tick, case] = cells.slew(
                    state[:, corner, case], 0, x[corner, tick, case], table[0, corner, case], table[1, corner, case]
                )


def slew_limit(wanted: Array, rise: float | Array, fall: float | Array, memory: Memory) -> Array:
    """Follow `wanted` no faster than `rise` upward and `fall` downward; starts on the first sample.

    wanted : (corner, time, case) array
        What to follow. [any]
    rise, fall : float or (corner, 1, case) array
        Largest rates, both positive; infinity for no limit. [any/s]
    """
    return memory.advance(slew_kernel, (wanted,), lambda: (np.asarray(rise, float) * memory.dt, np.asarray(fall, float) * memory.dt), 2)

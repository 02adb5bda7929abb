"""Whole-tick delay."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import IN3, OUT3, kernel
from dualduty.memory import Memory

Array = NDArray[np.float64]


@kernel(IN3, IN3, OUT3, OUT3)
def _delay_kernel(x: Array, table: Array, state: Array, out: Array) -> None:
    length = state.shape[0] - 2  # slots: started, write position, ring
    for corner in range(x.shape[0]):
        for tick in range(x.shape[1]):
            for case in range(x.shape[2]):
                if state[0, corner, case] == 0.0:
                    state[0, corner, case] = 1.0
                    for slot in range(length):
                        state[2 + slot, corner, case] = x[corner, tick, case]
                write = int(state[1, corner, case])
                state[2 + write, corner, case] = x[corner, tick, case]
                read = (write - int(table[0, corner, case])) % length
                out[corner, tick, case] = state[2 + read, corner, case]
                state[1, corner, case] = float((write + 1) % length)


def delay(wanted: Array, time: float | Array, memory: Memory, *, longest: float) -> Array:
    """`wanted` as it was `time` ago; before the start, the first sample.

    wanted : (corner, time, case) array
        [any]
    time : float or (corner, 1, case) array
        Delay, rounded to whole ticks, at most `longest`. [s]
    longest : float
        Upper end of the parameter's range: sizes the ring so that a change of mode keeps its contents. [s]
    """
    slots = round(longest / memory.dt) + 1
    return memory.advance(
        _delay_kernel, (wanted,), lambda: (np.clip(np.round(np.asarray(time, float) / memory.dt), 0, slots - 1),), slots + 2
    )

"""Two-threshold trigger with delays and a shortest stay: the one mechanism all detectors share."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dualduty import cells
from dualduty.kernels import IN3, OUT3, kernel
from dualduty.memory import Memory

Array = NDArray[np.float64]


@kernel(IN3, IN3, OUT3, OUT3)
def _schmitt_trigger_kernel(x: Array, table: Array, state: Array, out: Array) -> None:
    for corner in range(x.shape[0]):
        for tick in range(x.shape[1]):
            for case in range(x.shape[2]):
                on, off = table[0, corner, case], table[1, corner, case]
                waits = table[2, corner, case], table[3, corner, case], table[4, corner, case]
                level = x[corner, tick, case]
                out[corner, tick, case] = cells.trigger(state[:, corner, case], 0, level, on, off, waits[0], waits[1], waits[2])


def schmitt_trigger(  # noqa: PLR0913 - thresholds and times are the whole point
    level: Array, on: float | Array, off: float | Array, memory: Memory, *, on_delay: float | Array = 0.0, off_delay: float | Array = 0.0,
    dwell: float | Array = 0.0,
) -> Array:  # fmt: skip
    """1 from where `level` has been at or above `on` for `on_delay` until it has been below `off` for `off_delay`.

    level : (corner, time, case) array
        What is watched. NaN never switches. [any]
    on, off : float or (corner, 1, case) array
        Thresholds, off <= on. [as level]
    on_delay, off_delay, dwell : float or (corner, 1, case) array
        How long the wish to switch must last, and the shortest time active. [s]

    Notes
    -----
    Starts inactive. Times are rounded to whole ticks; a delay of 0 switches in the same tick.
    """

    def coefficients() -> tuple[Array, ...]:
        times = (cells.ticks(time, memory.dt) for time in (on_delay, off_delay, dwell))
        return (np.asarray(on, float), np.asarray(off, float), *times)

    return memory.advance(_schmitt_trigger_kernel, (level,), coefficients, 3)

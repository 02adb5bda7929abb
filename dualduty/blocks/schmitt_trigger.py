"""Two-threshold trigger with delays and a shortest stay: the one mechanism all detectors share."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import IN3, OUT3, kernel
from dualduty.memory import Memory

Array = NDArray[np.float64]


@kernel(IN3, IN3, OUT3, OUT3)
def _schmitt_trigger_kernel(x: Array, table: Array, state: Array, out: Array) -> None:
    # state: active, ticks the wish to switch has lasted, ticks since the last switch
    for corner in range(x.shape[0]):
        for tick in range(x.shape[1]):
            for case in range(x.shape[2]):
                active = state[0, corner, case] > 0.0
                level = x[corner, tick, case]
                wish = level < table[1, corner, case] if active else level >= table[0, corner, case]
                waited = state[1, corner, case] + 1.0 if wish else 0.0
                needed = table[3, corner, case] if active else table[2, corner, case]
                stayed = state[2, corner, case] + 1.0
                if wish and waited > needed and (not active or stayed >= table[4, corner, case]):
                    active = not active
                    waited = 0.0
                    stayed = 0.0
                state[0, corner, case] = 1.0 if active else 0.0
                state[1, corner, case] = waited
                state[2, corner, case] = min(stayed, 1e12)
                out[corner, tick, case] = state[0, corner, case]


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
        ticks = [np.round(np.asarray(time, float) / memory.dt) for time in (on_delay, off_delay, dwell)]
        return (np.asarray(on, float), np.asarray(off, float), *ticks)

    return memory.advance(_schmitt_trigger_kernel, (level,), coefficients, 3)

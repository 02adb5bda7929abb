"""Stretches of ticks in which a gate is open, as intervals in seconds."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from replay.check.intervals import ActiveStretches, Interval

Gate = NDArray[np.bool_]


def stretches(gate: Gate, dt: float) -> list[Interval]:
    """Intervals in which a (tick,) gate is open, half open, in seconds from its first tick."""
    found = ActiveStretches(dt)
    found.add(gate)
    return found.end()


def lasting(intervals: list[Interval], least: float) -> list[Interval]:
    """Those of at least so many seconds."""
    return [(start, end) for start, end in intervals if end - start >= least - 1e-9]  # rounding of ticks

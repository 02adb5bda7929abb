"""Look-ups over distance: ground under each wheel and the driver's wishes, linear between grid points, held at the ends."""

from __future__ import annotations

from typing import Any

from numpy import float64
from numpy.typing import NDArray

from dualduty.kernels import inline
from plant.rows import Number

Array = NDArray[float64]


@inline
def place(case: Any, distance: float) -> tuple[int, float, float]:
    """Grid index in the joined tracks, share to the next point, and 1 where the track goes on (0 beyond its ends)."""
    at = distance * case.per_track_step
    last = case.track_count - 1
    if at <= 0.0:
        return case.track_start, 0.0, 0.0
    if at >= last:
        return case.track_start + last - 1, 1.0, 0.0
    index = int(at)
    return case.track_start + index, at - index, 1.0


@inline
def between(low: float, high: float, share: float) -> Number:
    """Linear between two grid points."""
    return low + share * (high - low)


@inline
def wish(tracks: Array, row: int, at: tuple[int, float, float]) -> Number:
    """A track's value at a place."""
    return between(tracks[row, at[0]], tracks[row, at[0] + 1], at[1])

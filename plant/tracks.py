"""Look-ups over distance: ground under each wheel and the driver's wishes, linear between grid points, held at the ends."""

from __future__ import annotations

from typing import Any

from numpy import float64
from numpy.typing import NDArray

from dualduty.kernels import inline

Array = NDArray[float64]


@inline
def place(case: Any, distance: float) -> tuple[int, float, float]:
    """Grid index in the joined tracks, share to the next point, and 1 where the track goes on (0 beyond its ends)."""
    at = distance / case.track_step
    last = case.track_count - 1
    if at <= 0.0:
        return case.track_start, 0.0, 0.0
    if at >= last:
        return case.track_start + last - 1, 1.0, 0.0
    index = int(at)
    return case.track_start + index, at - index, 1.0


@inline
def value(tracks: Array, row: int, at: tuple[int, float, float]) -> float:
    """Value of one track."""
    low = tracks[row, at[0]]
    return low + at[1] * (tracks[row, at[0] + 1] - low)


@inline
def slope(case: Any, tracks: Array, row: int, at: tuple[int, float, float]) -> float:
    """Growth of one track per distance. [1]"""
    return at[2] * (tracks[row, at[0] + 1] - tracks[row, at[0]]) / case.track_step

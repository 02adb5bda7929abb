"""Give a plug-in its parameters for one row of drive modes: floats where single, arrays by corner and case otherwise."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.settings import Settings, Value
from dualduty.lookup import Curve, Surface

Array = NDArray[np.float64]
T = TypeVar("T")


def bind(plug_in: type[T], candidates: Sequence[Settings], candidate_of_case: Sequence[int], mode_of_case: Sequence[int]) -> T:
    """Make `plug_in` with the values each case has in its candidate and drive mode.

    Parameters
    ----------
    candidates : sequence of Settings
        Values of this plug-in, one entry per candidate; breakpoint counts are equal.
    candidate_of_case, mode_of_case : sequences of (case,) int
        Which candidate and which drive mode each case has.
    """
    names = candidates[0]
    return plug_in(**{name: _bound([entry[name] for entry in candidates], candidate_of_case, mode_of_case) for name in names})


def _bound(values: list[Value], candidate_of_case: Sequence[int], mode_of_case: Sequence[int]) -> Any:
    pairs = list(zip(candidate_of_case, mode_of_case, strict=True))
    spread = np.stack([values[candidate].values[..., mode, :] for candidate, mode in pairs], axis=-1)  # (*points, 4, case)
    spread = _folded(spread)
    axes = len(values[0].points)
    if axes == 0:
        return float(spread[0, 0]) if spread.size == 1 else np.ascontiguousarray(spread[:, None, :])
    points = [_folded(np.stack([values[c].points[axis][:, None] for c, _ in pairs], axis=-1)) for axis in range(axes)]
    return Curve(points[0], spread) if axes == 1 else Surface(points[0], points[1], spread)


def _folded(spread: Array) -> Array:
    """Drop the corner axis to 1 where all corners agree, and the case axis to 1 where all cases do."""
    if (spread == spread[..., :1, :]).all():
        spread = spread[..., :1, :]
    if (spread == spread[..., :1]).all():
        spread = spread[..., :1]
    return np.ascontiguousarray(spread)

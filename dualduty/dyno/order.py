"""Forces that must rise with speed and duty: small dips of noise are pooled and told, real ones refused."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import isotonic_regression

from dualduty.dyno.grid import Grid
from dualduty.dyno.sheet_file import place, tell_some
from dualduty.errors import BadInput

Array = NDArray[np.float64]

_SIGMAS: Final = 3.0
_CELL: Final = 0.01  # ISO 7500-1:2018, table 2: class 1 force measurement, 1 % relative error of indication (from memory)
_CELL_FLOOR: Final = 5.0  # N, its zero and resolution (common practice)
_MOST: Final = 0.05  # however noisy the repeats, a dip deeper than this is no noise to be pooled (common practice)
_ROUNDS: Final = 200


def dip_tolerance(grid: Grid) -> Array:
    """How deep a dip may be to count as noise: three standard deviations of a difference of two cell means, (speed, duty). [N]"""
    force = np.abs(grid.force)
    relative = grid.spread / np.maximum(force, _CELL_FLOOR)
    seen = relative[np.isfinite(relative)]
    pooled = float(np.sqrt(np.mean(np.square(seen)))) if seen.size else 0.0
    noise = _SIGMAS * pooled * np.sqrt(2.0 / grid.count) * force
    tolerance: Array = np.maximum(np.minimum(noise, _MOST * force), _CELL * force) + _CELL_FLOOR
    return tolerance


def ordered(grid: Grid, path: Path, problems: list[BadInput], notices: list[str]) -> Array:
    """Forces that are 0 or more and rise, (speed, duty): the least-squares nearest to those measured. [N]"""
    tolerance = dip_tolerance(grid)
    told = _dips(grid, tolerance, path)
    tell_some(problems, told, f"such {grid.side} cells")
    if told:
        return grid.force
    pooled = pool(np.maximum(grid.force, 0.0))
    moved = np.abs(pooled - grid.force)
    if moved.max() > 0.0:
        row, column = np.unravel_index(int(np.argmax(moved)), moved.shape)
        notices.append(
            f"{place(path, int(grid.line[row, column]))}: {int((moved > 0.0).sum())} of {moved.size} {grid.side} forces dip within the "
            f"noise and were levelled, by {moved.max():.1f} N at most ({grid.at(int(row), int(column))})"
        )
    return pooled


def _dips(grid: Grid, tolerance: Array, path: Path) -> list[BadInput]:
    found = [
        BadInput(
            place(path, int(grid.line[row, column])),
            f"expected a force against the motion at {grid.at(row, column)}, came {grid.force[row, column]:.0f} N without gas and friction",
        )
        for row, column in np.argwhere(grid.force < -tolerance)
    ]
    for axis, said in ((0, "speed"), (1, "duty")):
        peak = np.maximum.accumulate(grid.force, axis=axis)
        for row, column in np.argwhere(peak - grid.force > tolerance):
            expected = f"expected force to rise with {said}: {peak[row, column]:.0f} N or more at {grid.at(row, column)}"
            told = f"{expected}, came {grid.force[row, column]:.0f} N (noise explains {tolerance[row, column]:.0f} N)"
            found.append(BadInput(place(path, int(grid.line[row, column])), told))
    return found


def pool(force: Array) -> Array:
    """Nearest table that rises in both directions, (n, m), in the units of `force`.

    Notes
    -----
    Isotonic regression along rows and columns in turn, with the corrections that make the turns converge to the least-squares
    table: Dykstra & Robertson 1982, An algorithm for isotonic regression for two or more independent variables, Annals of
    Statistics 10(3):708-716 (from memory).
    """
    if (np.diff(force, axis=0) >= 0.0).all() and (np.diff(force, axis=1) >= 0.0).all():
        return force
    found = force
    correction = [np.zeros_like(force), np.zeros_like(force)]
    for _ in range(_ROUNDS):
        before = found
        for axis in (0, 1):
            start = found - correction[axis]
            found = np.apply_along_axis(lambda values: isotonic_regression(values).x, axis, start)
            correction[axis] = found - start
        if np.abs(found - before).max() < 1e-9 * np.abs(force).max():
            break
    # what rounding leaves is closed exactly, so that the table passes as one that can be inverted
    return np.maximum.accumulate(np.maximum.accumulate(found, axis=0), axis=1)

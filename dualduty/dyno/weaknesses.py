"""What an engineer should know about a sheet though it can be used: warm oil, few repeats, wide loops."""

from __future__ import annotations

from typing import Final

import numpy as np

from dualduty.dyno.grid import Grid
from dualduty.dyno.points import Points
from dualduty.dyno.sheet import Facts
from dualduty.dyno.sheet_file import SheetFile, place
from dualduty.errors import BadInput

_DRIFT: Final = 10.0  # K; damping force loses some 0.2 to 0.5 % per kelvin, so this is a few per cent (common practice)
_TOO_WARM: Final = 30.0  # K; cold and hot rows are no longer one damper (common practice)
_FEW: Final = 3
_WIDE: Final = 0.25  # of the force; a loop this wide says that force isn't a function of speed alone (common practice)
_WIDE_FLOOR: Final = 40.0  # N


def check_temperature(file: SheetFile, problems: list[BadInput]) -> None:
    """Refuse a sheet whose oil got much warmer on the way."""
    if "oil_temperature" not in file.columns:
        return
    oil = file.columns["oil_temperature"]
    if np.ptp(oil) > _TOO_WARM:
        where = place(file.path, int(file.lines[int(np.argmax(oil))]))
        came = f"{oil.max():.0f} here and {oil.min():.0f} on line {int(file.lines[int(np.argmin(oil))])}"
        problems.append(BadInput(where, f"expected oil temperatures within {_TOO_WARM:g} K of each other, came {came} degC"))


def weaknesses(points: Points, grids: list[Grid], facts: Facts) -> list[str]:
    """One line each: file, row, what came and what was expected."""
    told = _temperature(points, facts)
    for grid in grids:
        told += _repeats(points, grid, facts) + _loops(points, grid)
    return told


def _temperature(points: Points, facts: Facts) -> list[str]:
    oil = points.oil_temperature
    if np.isnan(oil).any():
        return []
    off = np.abs(oil - facts.oil_temperature)
    at = int(np.argmax(off))
    if off[at] <= _DRIFT:
        return []
    return [f"{points.where(at)}: oil at {oil[at]:.0f} degC; expected {facts.oil_temperature:g} degC as declared, within {_DRIFT:g} K"]


def _repeats(points: Points, grid: Grid, facts: Facts) -> list[str]:
    where = f"{points.path.name}: {grid.side}"
    fewest = int(grid.count.min())
    row, column = np.unravel_index(int(np.argmin(grid.count)), grid.count.shape)
    cell = grid.at(int(row), int(column))
    if fewest < facts.repeats:
        thin = int((grid.count < facts.repeats).sum())
        return [
            f"{where}: expected {facts.repeats} repeats as declared, came fewer in {thin} of {grid.count.size} cells, {fewest} at {cell}"
        ]
    if fewest < _FEW:
        return [f"{where}: {fewest} repeats; expected {_FEW} or more, to tell a spread"]
    return []


def _loops(points: Points, grid: Grid) -> list[str]:
    with np.errstate(invalid="ignore"):
        wide = np.abs(grid.width) - np.maximum(_WIDE * grid.force, _WIDE_FLOOR)
    wide = np.where(np.isfinite(wide), wide, -1.0)
    if wide.max() <= 0.0:
        return []
    row, column = np.unravel_index(int(np.argmax(wide)), wide.shape)
    came = f"rising and falling force differ by {grid.width[row, column]:.0f} N at {grid.at(int(row), int(column))}"
    most = max(_WIDE * grid.force[row, column], _WIDE_FLOOR)
    return [f"{place(points.path, int(grid.line[row, column]))}: wide loop: {came}; expected {most:.0f} N or less"]

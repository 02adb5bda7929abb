"""Points of one side gathered on a grid of test speeds and duties: mean, spread over the repeats, count and loop width."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.dyno.points import Points, speed_levels
from dualduty.dyno.sheet_file import place, tell_some
from dualduty.errors import BadInput

Array = NDArray[np.float64]

FEWEST_SPEEDS: Final = 3
_DISAGREE: Final = 0.08  # repeats further from their median than this share are two different tests (common practice)
_DISAGREE_FLOOR: Final = 25.0  # N


@dataclass(frozen=True, eq=False)
class Grid:
    """(speed, duty) arrays of one side, without the row of speed 0; `line` is the first row of the file in each cell."""

    side: str
    speeds: Array
    duties: Array
    force: Array
    spread: Array
    count: Array
    width: Array
    line: NDArray[np.int64]

    def at(self, row: int, column: int) -> str:
        """A cell, as messages say it."""
        return f"{self.speeds[row]:.3g} m/s {self.side}, duty {self.duties[column]:.0%}"


def gather(points: Points, measured: tuple[Array, Array], side: str, problems: list[BadInput]) -> Grid | None:
    """The grid of a side from rows with the other side's duty at 0; None where it isn't whole.

    `measured` is the force of the damper alone and the width of its loop, for each row of `points`. [N]
    """
    wanted = points.moves(side) & (points.other_duty(side) == 0.0)
    rows, force, width = points.only(wanted), measured[0][wanted], measured[1][wanted]
    levels, level = speed_levels(np.abs(rows.speed))
    duties = np.unique(rows.own_duty(side))
    before = len(problems)
    _check_size(points, side, levels, duties, problems)
    if len(problems) > before:
        return None
    cells = [[np.flatnonzero((level == row) & (rows.own_duty(side) == duty)) for duty in duties] for row in range(levels.size)]
    _check_whole(points, side, (levels, duties), cells, problems)
    if len(problems) > before:
        return None
    grid = _grid(side, (levels, duties), cells, rows, (force, width))
    _check_repeats(points, grid, cells, (rows, force), problems)
    return grid if len(problems) == before else None


def _check_size(points: Points, side: str, levels: Array, duties: Array, problems: list[BadInput]) -> None:
    said = ", ".join(f"{duty:.0%}" for duty in duties) or "none"
    missing = [f"{end:.0%}" for end in (0.0, 1.0) if end not in duties]
    if missing:
        problems.append(BadInput(points.path, f"expected {side} rows at duty {' and '.join(missing)}, the other side at 0 %; came {said}"))
    if levels.size < FEWEST_SPEEDS:
        told = ", ".join(f"{level:.3g}" for level in levels) or "none"
        problems.append(BadInput(points.path, f"expected {FEWEST_SPEEDS} or more {side} test speeds above a crawl, came {told} m/s"))


def _check_whole(
    points: Points, side: str, axes: tuple[Array, Array], cells: list[list[NDArray[np.int64]]], problems: list[BadInput]
) -> None:
    holes = [
        BadInput(
            points.path, f"expected a row at {axes[0][row]:.3g} m/s {side}, duty {axes[1][column]:.0%}, the other side at 0 %; came none"
        )
        for row, line in enumerate(cells)
        for column, cell in enumerate(line)
        if not cell.size
    ]
    tell_some(problems, holes, "missing rows")


def _mean(values: Array) -> float:
    return float(np.mean(values))


def _spread(values: Array) -> float:
    return float(np.std(values, ddof=1)) if values.size > 1 else float("nan")


def _grid(side: str, axes: tuple[Array, Array], cells: list[list[NDArray[np.int64]]], rows: Points, measured: tuple[Array, Array]) -> Grid:
    force, width = measured

    def each(measure: Array, taken: Callable[[Array], float] = _mean) -> Array:
        return np.array([[taken(measure[cell]) for cell in line] for line in cells])

    speed, mean = each(np.abs(rows.speed)), each(force)
    levels = axes[0].copy()
    levels[-1] = speed[-1].min()  # so that no duty is read beyond its own fastest row
    at_levels = np.column_stack([_read(levels, speed[:, column], mean[:, column]) for column in range(axes[1].size)])
    count = np.array([[cell.size for cell in line] for line in cells], float)
    lines = np.array([[rows.line[cell].min() for cell in line] for line in cells], np.int64)
    return Grid(side, levels, axes[1], at_levels, each(force, _spread), count, each(width), lines)


def _read(levels: Array, speed: Array, force: Array) -> Array:
    """Force at the common test speeds, from the speeds the machine reached (a per cent or so beside them)."""
    return np.asarray(np.interp(levels, np.concatenate([[0.0], speed]), np.concatenate([[0.0], force])), float)


def _check_repeats(
    points: Points, grid: Grid, cells: list[list[NDArray[np.int64]]], measured: tuple[Points, Array], problems: list[BadInput]
) -> None:
    """Repeats that disagree: the row furthest from the median of its cell is told."""
    rows, force = measured
    told = []
    for row, line in enumerate(cells):
        for column, cell in enumerate(line):
            middle = float(np.median(force[cell]))
            off = np.abs(force[cell] - middle)
            far = int(np.argmax(off))
            if off[far] > max(_DISAGREE * abs(middle), _DISAGREE_FLOOR):
                came = f"{force[cell][far]:.0f} N in repeat {rows.repeat[cell][far]:g}"
                expected = f"expected about {middle:.0f} N as in the other repeats at {grid.at(row, column)}"
                told.append(BadInput(place(points.path, int(rows.line[cell][far])), f"{expected}, came {came}"))
    tell_some(problems, told, "rows that disagree")

"""Reading dynamometer sheets: file, facts, sign, gas and friction, maps, crosstalk, and every problem at once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.car import raise_all
from dualduty.damper_map import DamperMap
from dualduty.dyno.crosstalk import fit_crosstalk
from dualduty.dyno.facts import declared_sign, read_facts
from dualduty.dyno.grid import Grid, gather
from dualduty.dyno.loops import points_of_loops
from dualduty.dyno.order import ordered
from dualduty.dyno.points import Points, check_rows, points_of
from dualduty.dyno.separation import Separation, separate
from dualduty.dyno.sheet import Facts, Sheet
from dualduty.dyno.sheet_file import SheetFile, read_sheet_file
from dualduty.dyno.sign import check_sign
from dualduty.dyno.weaknesses import check_temperature, weaknesses
from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.signals import SIDES

Array = NDArray[np.float64]

_SOME_STROKE: Final = 1.5  # m; where the sheet doesn't say, so that its rows can be checked all the same


@dataclass(frozen=True, eq=False)
class _Side:
    """What came out for one side."""

    grid: Grid
    damper_map: DamperMap
    crosstalk: float
    residual: float


def read_sheet(path: Path | str) -> Sheet:
    """One sheet, checked; BadInput, or SeveralBadInputs with a line for each problem."""
    problems: list[BadInput] = []
    sheet = _sheet(Path(path), problems)
    raise_all(problems)
    assert sheet is not None  # noqa: S101 - no sheet without a problem
    return sheet


def read_each(where: Path | str | Iterable[Path | str]) -> tuple[list[Sheet], list[BadInput]]:
    """Sheets that can be used, and the problems of the others; a folder gives its *.csv in order of name."""
    sheets: list[Sheet] = []
    problems: list[BadInput] = []
    for path in sheet_paths(where):
        try:
            sheets.append(read_sheet(path))
        except SeveralBadInputs as several:
            problems += several.problems
        except BadInput as problem:
            problems.append(problem)
    return sheets, problems


def read_sheets(where: Path | str | Iterable[Path | str]) -> list[Sheet]:
    """The sheets of a folder, or of the paths given; all problems of all of them at once."""
    sheets, problems = read_each(where)
    raise_all(problems)
    return sheets


def sheet_paths(where: Path | str | Iterable[Path | str]) -> list[Path]:
    """The files meant: those named, and the *.csv directly in a folder named."""
    named = [Path(where)] if isinstance(where, Path | str) else [Path(one) for one in where]
    found: list[Path] = []
    for path in named:
        inside = sorted(path.glob("*.csv")) if path.is_dir() else [path]
        if not inside:
            raise BadInput(path, "expected dynamometer sheets (*.csv) in this folder, found none")
        found += inside
    return found


def _sheet(path: Path, problems: list[BadInput]) -> Sheet | None:
    file = read_sheet_file(path, problems)
    if file is None:
        return None
    who, facts = read_facts(file, problems)
    stroke = facts.stroke if facts else _SOME_STROKE
    points = _points(file, stroke, problems)
    if points is None:
        return None
    notices: list[str] = []
    split = separate(points, stroke, problems, notices)
    sides = [_side(points, split, side, problems, notices) for side in SIDES]
    whole = [side for side in sides if side is not None]
    if facts is None or split is None or len(whole) < len(SIDES) or problems:
        return None
    notices += weaknesses(points, [side.grid for side in whole], facts)
    return _finished(path, (who, facts), split, dict(zip(SIDES, whole, strict=True)), notices)


def _points(file: SheetFile, stroke: float, problems: list[BadInput]) -> Points | None:
    """The rows compression positive, once their sign is sure; None where it isn't, or where they can't be used."""
    before = len(problems)
    check_rows(file, stroke, problems)
    check_temperature(file, problems)
    sign = declared_sign(file.facts)
    if len(problems) > before or np.isnan(sign):
        return None
    points = points_of_loops(file, sign, problems) if file.has_loops else points_of(file, stroke, sign)
    return points if points is not None and check_sign(points, sign, problems) else None


def _side(points: Points, split: Separation | None, side: str, problems: list[BadInput], notices: list[str]) -> _Side | None:
    """One side, or None where problems came up; without a separation the holes of the grid are told all the same."""
    taken_out = split or Separation(0.0, 0.0, 0.0, 0.0, 0.0)
    force = taken_out.damper_force(points)
    grid = gather(points, (force, taken_out.loop_width(points)), side, problems)
    if grid is None or split is None:
        return None
    damper_map = _map(grid, points.path, problems, notices)
    if damper_map is None:
        return None
    return _Side(grid, damper_map, *fit_crosstalk(points, force, side, damper_map, notices))


def _map(grid: Grid, path: Path, problems: list[BadInput], notices: list[str]) -> DamperMap | None:
    before = len(problems)
    forces = ordered(grid, path, problems, notices)
    if len(problems) > before:
        return None
    try:
        return DamperMap(np.concatenate([[0.0], grid.speeds]), grid.duties, _from_rest(forces), f"{path}: {grid.side} map")
    except BadInput as problem:
        problems.append(problem)
        return None


def _from_rest(values: Array) -> Array:
    """With a row of zeros for speed 0 above."""
    return np.vstack([np.zeros(values.shape[1]), values])


def _finished(
    path: Path, told: tuple[dict[str, str], Facts], split: Separation, sides: dict[str, _Side], notices: list[str]
) -> Sheet:  # fmt: skip
    who, facts = told
    return Sheet(
        file=path, serial=who["serial"], build=who["build"], vehicle=who["vehicle"], corner=who["corner"], facts=facts,
        gas_force=split.gas_force, gas_rate=split.gas_rate, friction=split.friction,
        maps={name: side.damper_map for name, side in sides.items()},
        crosstalk={name: side.crosstalk for name, side in sides.items()},
        crosstalk_residual={name: side.residual for name, side in sides.items()},
        spread={name: _from_rest(side.grid.spread) for name, side in sides.items()},
        loop_width={name: _from_rest(side.grid.width) for name, side in sides.items()},
        notices=notices,
    )  # fmt: skip

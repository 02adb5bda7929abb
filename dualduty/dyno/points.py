"""Measured points of a sheet, compression positive: one row per force at a shaft speed and a pair of duties."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.dyno.sheet_file import SheetFile, place, tell_some
from dualduty.errors import BadInput

Array = NDArray[np.float64]

CRAWL: Final = 0.02  # m/s; slower rows are there for gas and friction only, and make no row of the map (common practice)
_BELIEVED: Final = (("shaft_speed", 20.0, "m/s"), ("force", 2e5, "N"))  # far beyond any damper of a car (common practice)
_SAME_SPEED: Final = 0.02  # speeds within this share of each other are one test speed; a servo machine holds 1 % (common practice)
_SAME_SPEED_FLOOR: Final = 0.001  # m/s


@dataclass(frozen=True, eq=False)
class Points:
    """Arrays of one length, SI, compression positive; travel from full extension; `line` is the row in the file.

    `width` is the rising minus falling force of the loop a point came from, `width_travel` the travel between the two, both
    at equal speed and nan where there is no loop.
    """

    path: Path
    compression_duty: Array
    rebound_duty: Array
    speed: Array
    force: Array
    repeat: Array
    travel: Array
    oil_temperature: Array
    width: Array
    width_travel: Array
    line: NDArray[np.int64]

    def only(self, wanted: NDArray[np.bool_]) -> Points:
        """Those rows for which `wanted` is true."""
        kept = {name: getattr(self, name)[wanted] for name in self.__dataclass_fields__ if name != "path"}
        return Points(self.path, **kept)

    def own_duty(self, side: str) -> Array:
        """Duty of the side named. [1]"""
        return self.compression_duty if side == "compression" else self.rebound_duty

    def other_duty(self, side: str) -> Array:
        """Duty of the side not named. [1]"""
        return self.rebound_duty if side == "compression" else self.compression_duty

    def moves(self, side: str) -> NDArray[np.bool_]:
        """Which rows move the way of one side, faster than a crawl."""
        return self.speed * direction(side) > CRAWL

    def where(self, index: int) -> str:
        """File and line of one row."""
        return place(self.path, int(self.line[index]))


def direction(side: str) -> float:
    """Sign of the shaft speed on a side."""
    return 1.0 if side == "compression" else -1.0


def points_of(file: SheetFile, stroke: float, sign: float) -> Points:
    """The rows of a sheet of points; without a travel column the middle of the stroke is taken."""
    unknown = np.full(file.lines.size, np.nan)
    columns = file.columns
    compression, rebound = (np.round(columns[name], 4) for name in ("compression_duty", "rebound_duty"))
    travel = columns.get("travel", np.full(file.lines.size, stroke / 2.0))
    temperature = columns.get("oil_temperature", unknown)
    return Points(
        file.path, compression, rebound, columns["shaft_speed"] * sign, columns["force"] * sign, columns["repeat"], travel, temperature,
        unknown, unknown, file.lines,
    )  # fmt: skip


def check_rows(file: SheetFile, stroke: float, problems: list[BadInput]) -> None:
    """Duties, repeats, travels, speeds and forces that can't be."""
    for name in ("compression_duty", "rebound_duty"):
        duty = file.columns[name] * 100.0
        wrong = (duty < 0.0) | (duty > 100.0) | (np.abs(duty - np.round(duty)) > 0.01)  # noqa: PLR2004 - rounding of a percentage
        _tell(file, wrong, problems, (name, "%", 0.01, "whole per cent from 0 to 100"))
    repeat = file.columns["repeat"]
    _tell(file, (repeat < 1) | (repeat != np.round(repeat)), problems, ("repeat", "", 1.0, "1, 2, 3, ..."))
    for name, most, unit in _BELIEVED:
        if name in file.columns:
            _tell(file, np.abs(file.columns[name]) > most, problems, (name, unit, 1.0, f"{most:g} {unit} or less; is the unit right?"))
    if "travel" in file.columns:
        travel = file.columns["travel"]
        slack = 0.02 * stroke  # zero of the machine's position against full extension (common practice)
        wrong = (travel < -slack) | (travel > stroke + slack)
        _tell(file, wrong, problems, ("travel", "mm", 1e-3, f"0 to the stroke, {stroke * 1e3:g} mm"))


def _tell(file: SheetFile, wrong: NDArray[np.bool_], problems: list[BadInput], said: tuple[str, str, float, str]) -> None:
    """One line per wrong cell: name of the column, unit, its size in SI, what was expected."""
    name, unit, factor, expected = said
    told = [
        BadInput(place(file.path, int(file.lines[at])), f"{name} is {file.columns[name][at] / factor:g} {unit}; expected {expected}")
        for at in np.flatnonzero(wrong)
    ]
    tell_some(problems, told, f"bad {name} rows")


def speed_levels(speeds: Array) -> tuple[Array, NDArray[np.int64]]:
    """Test speeds from nearly equal measured ones, and for each measured one which it belongs to. [m/s]"""
    order = np.argsort(speeds, kind="stable")
    steps = np.diff(speeds[order])
    new = steps > np.maximum(_SAME_SPEED * speeds[order][1:], _SAME_SPEED_FLOOR)
    level = np.empty(speeds.size, np.int64)
    level[order] = np.concatenate([[0], np.cumsum(new)]) if speeds.size else []
    count = np.bincount(level)
    return np.bincount(level, speeds) / count, level


def joined(parts: list[Points]) -> Points:
    """Several sets of points of one sheet as one."""
    names = [name for name in Points.__dataclass_fields__ if name != "path"]
    together: dict[str, Any] = {name: np.concatenate([getattr(part, name) for part in parts]) for name in names}
    return Points(parts[0].path, **together)

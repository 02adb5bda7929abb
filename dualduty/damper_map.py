"""Damper map: the force of one side of a damper over shaft speed and duty, and the duty that gives a wanted force."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.kernels import I8, IN1, IN3, OUT3, inline, kernel
from dualduty.lookup import full
from dualduty.units import UNITS, split_key

Array = NDArray[np.float64]

_HEAD: Final = 2  # a packed table starts with its numbers of speeds and duties
_REACH: Final = 2.0  # forces held on at the last slope must stay in order up to this many times the last tested speed


@inline
def speed_segment(table: Array, start: int, speed: float) -> tuple[int, float]:
    """Row below `speed` in the packed table at `start`, and the share along it: above 1 beyond the last tested speed."""
    last = int(table[start]) - 2
    first = start + _HEAD
    row = 0
    while row < last and speed >= table[first + row + 1]:
        row += 1
    low = table[first + row]
    return row, (speed - low) / (table[first + row + 1] - low)


@inline
def column_force(table: Array, start: int, at: tuple[int, float], column: int) -> Any:
    """Force at one tested duty. [N]"""
    rows, columns = int(table[start]), int(table[start + 1])
    below = start + _HEAD + rows + columns + at[0] * columns + column
    return table[below] + at[1] * (table[below + columns] - table[below])


@inline
def map_force(table: Array, start: int, speed: float, duty: float) -> Any:
    """Force at a shaft speed (0 or more) and a duty 0..1, bilinear in the packed table at `start`. [N]"""
    at = speed_segment(table, start, speed)
    first = start + _HEAD + int(table[start])
    column = 0
    while column < int(table[start + 1]) - 2 and duty >= table[first + column + 1]:
        column += 1
    share = (duty - table[first + column]) / (table[first + column + 1] - table[first + column])
    low = column_force(table, start, at, column)
    return low + share * (column_force(table, start, at, column + 1) - low)


@inline
def map_duty(table: Array, start: int, speed: float, force: float) -> tuple[float, float]:
    """Duty 0..1 that gives `force`, and 1 where it lies outside the map (or the speed beyond the last tested one)."""
    if math.isnan(speed + force):
        return math.nan, 1.0
    at = speed_segment(table, start, speed)
    beyond = 1.0 if at[1] > 1.0 else 0.0
    first = start + _HEAD + int(table[start])
    below = 0.0
    for column in range(int(table[start + 1])):
        here = column_force(table, start, at, column)
        if force <= here:
            if column == 0:
                return 0.0, 1.0 if force < here else beyond
            duty = table[first + column - 1]
            return duty + (table[first + column] - duty) * (force - below) / (here - below), beyond
        below = here
    return 1.0, 1.0


# `start` is 0 for a table of its own; as an argument it keeps one compiled form of each function, here and in the plant.
@kernel(IN1, I8, IN3, IN3, OUT3)
def _forces(table: Array, start: int, speed: Array, duty: Array, out: Array) -> None:
    for corner in range(out.shape[0]):
        for tick in range(out.shape[1]):
            for case in range(out.shape[2]):
                held = min(max(duty[corner, tick, case], 0.0), 1.0)
                out[corner, tick, case] = map_force(table, start, max(speed[corner, tick, case], 0.0), held)


@kernel(IN1, I8, IN3, IN3, OUT3, OUT3)
def _duties(table: Array, start: int, speed: Array, force: Array, out: Array, clamped: Array) -> None:
    for corner in range(out.shape[0]):
        for tick in range(out.shape[1]):
            for case in range(out.shape[2]):
                found = map_duty(table, start, max(speed[corner, tick, case], 0.0), force[corner, tick, case])
                out[corner, tick, case], clamped[corner, tick, case] = found


@dataclass(frozen=True, eq=False)
class DamperMap:
    """Force of one side, bilinear between tested points; beyond the last tested speed the last slope is held.

    speeds : (n,) array
        Shaft speeds from 0, rising, positive on either side. [m/s]
    duties : (m,) array
        Duties from 0 to 1, rising. [1]
    forces : (n, m) array
        Force against the motion; 0 or more, rising (or level) in both directions. [N]
    source : str
        Where it came from, for messages.

    Raises
    ------
    BadInput
        Where the table isn't one that can be inverted.
    """

    speeds: Array
    duties: Array
    forces: Array
    source: str = "damper map"

    def __post_init__(self) -> None:
        problem = _problem_of(self.speeds, self.duties, self.forces)
        if problem:
            raise BadInput(self.source, problem)
        sizes = np.array([self.speeds.size, self.duties.size], float)
        packed = np.concatenate([sizes, self.speeds, self.duties, self.forces.ravel()])
        packed.flags.writeable = False
        object.__setattr__(self, "_packed", packed)

    @property
    def packed(self) -> Array:
        """The table in one row of numbers, as kernels take it: sizes, speeds, duties, forces row by row."""
        return self._packed  # type: ignore[attr-defined,no-any-return]

    def force(self, speed: Array, duty: Array) -> Array:
        """Force of the damper.

        speed : (corner, time, case) array
            Shaft speed, positive on either side; below 0 counts as 0. [m/s]
        duty : (corner, time, case) array
            Held to 0..1. [1]

        Returns
        -------
        (corner, time, case) array
            [N]
        """
        speed, duty = _alike(speed, duty)
        out = np.empty(speed.shape)
        self.force_into(speed, duty, out)
        return out

    def force_into(self, speed: Array, duty: Array, out: Array) -> None:
        """As `force`, into a given array; all three of one shape, float64, C order (a tick's call at its leanest)."""
        _forces(self.packed, 0, speed, duty, out)

    def duty(self, speed: Array, force: Array) -> tuple[Array, Array]:
        """Duty that gives a wanted force.

        speed : (corner, time, case) array
            Shaft speed, positive on either side; below 0 counts as 0. [m/s]
        force : (corner, time, case) array
            Wanted force. [N]

        Returns
        -------
        duty, clamped : (corner, time, case) arrays
            The lowest such duty [1]; 1 where the force lies outside the map or the speed beyond the last tested one.
        """
        speed, force = _alike(speed, force)
        out, clamped = np.empty(speed.shape), np.empty(speed.shape)
        self.duty_into(speed, force, out, clamped)
        return out, clamped

    def duty_into(self, speed: Array, force: Array, out: Array, clamped: Array) -> None:
        """As `duty`, into given arrays; all four of one shape, float64, C order."""
        _duties(self.packed, 0, speed, force, out, clamped)

    def beyond(self, speed: Array) -> Array:
        """1 where a shaft speed, any array [m/s], is beyond the last tested one: force and duty are extrapolated there."""
        return np.asarray(speed > self.speeds[-1], float)


def _alike(first: Array, second: Array) -> tuple[Array, Array]:
    """Both at one (corner, time, case) shape, float64 and C order; themselves where they are, since this runs each tick."""
    if first.shape == second.shape and first.flags.c_contiguous and second.flags.c_contiguous and first.dtype == second.dtype == np.float64:
        return first, second
    shape = np.broadcast_shapes(first.shape, second.shape)
    return full(first, shape), full(second, shape)


def _problem_of(speeds: Array, duties: Array, forces: Array) -> str:
    if forces.shape != (speeds.size, duties.size) or min(forces.shape) < 2:  # noqa: PLR2004 - a line needs two points
        return f"forces are {forces.shape}; expected (speed, duty) with at least 2 x 2"
    if not all(np.isfinite(part).all() for part in (speeds, duties, forces)):
        return "expected finite numbers throughout"
    if speeds[0] != 0.0 or (np.diff(speeds) <= 0.0).any():
        return "expected shaft speeds that start at 0 and rise"
    if duties[0] != 0.0 or duties[-1] != 1.0 or (np.diff(duties) <= 0.0).any():
        return "expected duties that rise from 0 to 100 %"
    if (forces < 0.0).any():
        row, column = np.argwhere(forces < 0.0)[0]
        return f"force {forces[row, column]:g} N at {speeds[row]:g} m/s, {duties[column]:.0%} is negative; a damper only resists"
    return _disorder(speeds, duties, forces)


def _disorder(speeds: Array, duties: Array, forces: Array) -> str:
    for axis, said in ((0, "shaft speed"), (1, "duty")):
        falls = np.argwhere(np.diff(forces, axis=axis) < 0.0)
        if falls.size:
            row, column = falls[0] + ([1, 0] if axis == 0 else [0, 1])
            return f"force falls with rising {said} at {speeds[row]:g} m/s, {duties[column]:.0%}: it can't be inverted"
    slope = (forces[-1] - forces[-2]) / (speeds[-1] - speeds[-2])
    if (np.diff(forces[-1] + slope * (_REACH - 1.0) * speeds[-1]) < 0.0).any():
        return f"the last slopes make softer duties overtake firmer ones before {_REACH * speeds[-1]:g} m/s; test at a higher speed"
    return ""


def read_damper_map(path: Path) -> DamperMap:
    """Read a map from CSV: columns `shaft_speed_m_s`, `duty_0_pct`, `duty_25_pct`, ... with forces in N; `#` comments."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(path, f"can't be read: {error}") from None
    rows = [(number, row) for number, row in enumerate(csv.reader(text.splitlines()), 1) if row and not row[0].startswith("#")]
    if not rows:
        raise BadInput(path, "expected a header and rows of numbers, found nothing")
    factor, duties = _header(path, rows[0][1])
    body = np.array([_numbers(f"{path}: line {number}", row, len(duties) + 1) for number, row in rows[1:]])
    body = body.reshape(-1, len(duties) + 1)
    return DamperMap(body[:, 0] * factor, np.array(duties), np.ascontiguousarray(body[:, 1:]), str(path))


def _header(path: Path, header: Sequence[str]) -> tuple[float, list[float]]:
    token = split_key(header[0].strip(), "shaft_speed")
    if token not in UNITS or UNITS[token].dimension != "speed":
        raise BadInput(path, f"first column is {header[0].strip()!r}; expected shaft_speed_m_s")
    duties = []
    for name in header[1:]:
        parts = name.strip().split("_")
        if len(parts) != 3 or parts[0] != "duty" or parts[2] != "pct" or not parts[1].isdigit():  # noqa: PLR2004
            raise BadInput(path, f"column {name.strip()!r}; expected duty_0_pct, duty_25_pct, ...")
        duties.append(int(parts[1]) / 100.0)
    return UNITS[token].factor, duties


def _numbers(where: str, row: Sequence[str], count: int) -> list[float]:
    if len(row) != count:
        raise BadInput(where, f"expected {count} numbers, came {len(row)}")
    try:
        return [float(cell) for cell in row]
    except ValueError:
        raise BadInput(where, f"expected numbers, came {','.join(row)!r}") from None

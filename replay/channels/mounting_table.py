"""The inertial unit as a channel map words it: by its axes or by its angles, and where it sits."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from replay.channels.channel_map import Channel
from replay.channels.mounting import AS_BUILT, DERIVATIVE_HZ, FORCES, RATES, Axes, Mounting, Vector
from replay.toml_table import Table

_WAYS: Final = ("forward", "left", "up")
_ANGLES: Final = ("roll", "pitch", "yaw")
_AXES: Final = {f"{sign}{name}": (index, -1.0 if sign == "-" else 1.0) for index, name in enumerate("xyz") for sign in ("", "+", "-")}
_FARTHEST: Final = 10e3  # mm; our choice: farther from the centre of gravity than any part of a car
_NOTHING: Final = 1e-12  # a weight below it is what is left of cos(90 deg), and means none
_DET: Final = 0.5


def read_mounting(table: Table, channels: list[Channel]) -> Mounting | None:
    """The mounting, None where the map says nothing of it."""
    if not table.values:
        return None
    table.only((*_WAYS, "turned_deg", "position_mm", "derivative_hz"))
    named = [key for key in _WAYS if key in table.values]
    if named and "turned_deg" in table.values:
        table.bad("turned_deg", "expected either the axes (forward, left, up) or the angles, came both")
    axes = _by_axes(table) if named else _by_angles(table.table("turned_deg"))
    hz = table.number("derivative_hz", DERIVATIVE_HZ, 0.1, 1e3)
    mounting = Mounting(axes, _position(table.table("position_mm")), hz)
    _refuse_without_gyros(table, mounting, {channel.name for channel in channels})
    return mounting


def _by_axes(table: Table) -> Axes:
    rows = [_axis(table, way) for way in _WAYS]
    if None in rows:
        return AS_BUILT
    matrix = np.array(rows)
    if abs(np.linalg.det(matrix)) < _DET:
        table.bad("", f"expected x, y and z once each, came {_said(table)}")
    elif np.linalg.det(matrix) < 0.0:
        slips = " or ".join(f"{way} = {_other_way(table.values[way])!r}" for way in ("left", "up", "forward"))
        table.bad(
            "", f"{_said(table)} is a left-handed set of axes; expected a right-handed one: most likely one way is turned round: {slips}"
        )
    return _nested(matrix)


def _axis(table: Table, way: str) -> Vector | None:
    value = table.values.get(way)
    if not isinstance(value, str) or value.strip() not in _AXES:
        came = "nothing" if value is None else repr(value)
        table.bad(way, f"expected the unit's axis that points {way} in the vehicle, one of x, -x, y, -y, z, -z, came {came}")
        return None
    index, sign = _AXES[value.strip()]
    row = [0.0, 0.0, 0.0]
    row[index] = sign
    return row[0], row[1], row[2]


def _said(table: Table) -> str:
    return ", ".join(f"{way} {table.values[way].strip()}" for way in _WAYS)


def _other_way(axis: str) -> str:
    return axis.strip().lstrip("+-") if axis.strip().startswith("-") else f"-{axis.strip().lstrip('+')}"


def _by_angles(table: Table) -> Axes:
    """From the unit's axes to the vehicle's, ISO 8855:2011: yaw about z, then pitch about the new y, then roll about the new x."""
    table.only(_ANGLES)
    roll, pitch, yaw = (np.deg2rad(table.number(key, 0.0, -360.0, 360.0)) for key in _ANGLES)
    about_z = np.array([[np.cos(yaw), -np.sin(yaw), 0.0], [np.sin(yaw), np.cos(yaw), 0.0], [0.0, 0.0, 1.0]])
    about_y = np.array([[np.cos(pitch), 0.0, np.sin(pitch)], [0.0, 1.0, 0.0], [-np.sin(pitch), 0.0, np.cos(pitch)]])
    about_x = np.array([[1.0, 0.0, 0.0], [0.0, np.cos(roll), -np.sin(roll)], [0.0, np.sin(roll), np.cos(roll)]])
    return _nested(about_z @ about_y @ about_x)


def _nested(matrix: Any) -> Axes:
    weights = np.where(np.abs(matrix) < _NOTHING, 0.0, np.where(np.abs(np.abs(matrix) - 1.0) < _NOTHING, np.sign(matrix), matrix))
    rows = [(float(row[0]), float(row[1]), float(row[2])) for row in weights + 0.0]
    return rows[0], rows[1], rows[2]


def _position(table: Table) -> Vector:
    table.only(_WAYS)
    forward, left, up = (table.number(key, 0.0, -_FARTHEST, _FARTHEST) / 1e3 for key in _WAYS)
    return forward, left, up


def _refuse_without_gyros(table: Table, mounting: Mounting, mapped: set[str]) -> None:
    """A position needs the gyros that take part; nothing else can bring a force to the centre of gravity."""
    forces = [name for name in FORCES if set(mounting.made_from(name)) & set(FORCES) <= mapped]
    needed = {rate for name in forces for rate in mounting.made_from(name) if rate in RATES}
    lacking = [name for name in RATES if name in needed - mapped]
    if lacking and any(mounting.position):
        table.bad(
            "position_mm",
            f"forces can't be brought to the centre of gravity without gyros: expected signals.{', signals.'.join(lacking)} in this map",
        )
    if not mapped & {*FORCES, *RATES}:
        table.bad("", "expected a specific_force or a rate in [signals] that this unit measures, came none")

"""Vehicles and courses packed as the kernel takes them: a record per case, damper tables and tracks joined end to end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp
from typing import Any, Final

import numba
import numpy as np
from numpy.typing import NDArray

from dualduty.car import Car
from dualduty.damper_map import DamperMap
from dualduty.parameters import declarations
from plant.course import Course
from plant.vehicle import Vehicle

Array = NDArray[np.float64]

_CORNERS: Final = (4,)
_DERIVED: Final = (
    ("total_mass", "f8"), ("pitch_lever", "f8"), ("mass_ahead", "f8"),
    ("arm", "f8", _CORNERS), ("side", "f8", _CORNERS), ("extended_ratio", "f8", _CORNERS),
    ("rise_left", "f8"), ("fall_left", "f8"), ("wheel_left", "f8"), ("step", "f8"),
    ("compression_map", "i8", _CORNERS), ("rebound_map", "i8", _CORNERS),
    ("track_start", "i8"), ("track_count", "i8"), ("track_step", "f8"), ("ticks", "i8"),
)  # fmt: skip


def _declared(kind: type) -> list[tuple[Any, ...]]:
    return [(name, "f8", _CORNERS) if entry.by_corner else (name, "f8") for name, entry in declarations(kind).items()]


CASE_TYPE: Final = np.dtype([*_declared(Car), *_declared(Vehicle), *_DERIVED], align=True)
CASES: Final = numba.types.Array(numba.from_dtype(CASE_TYPE), 1, "C", readonly=True)


@dataclass(frozen=True)
class Packed:
    """All that stays constant during a run.

    cases : (case,) array of CASE_TYPE
        One record per case.
    tables : (n,) array
        Packed damper maps.
    tracks : (track, n) array
        Ground and wishes over distance; rows by `plant.rows`.
    """

    cases: NDArray[np.void]
    tables: Array
    tracks: Array


def pack(vehicles: Sequence[Vehicle], courses: Sequence[Course], step: float, tick: float) -> Packed:
    """Pack one vehicle and one course per case; `step` of the plant and `tick` of the controller in seconds."""
    tables, tracks = _Joined(axis=0), _Joined(axis=1)
    cases = np.zeros(len(vehicles), CASE_TYPE)
    for record, vehicle, course in zip(cases, vehicles, courses, strict=True):
        _fill_vehicle(record, vehicle, step)
        for corner in range(4):
            record["compression_map"][corner] = _add_map(tables, vehicle.car.damper_map("compression", corner))
            record["rebound_map"][corner] = _add_map(tables, vehicle.car.damper_map("rebound", corner))
        record["track_start"] = tracks.add(course, lambda course=course: _tracks(course))
        record["track_count"] = course.ground.left.size
        record["track_step"] = course.ground.step
        record["ticks"] = round(course.duration / tick)
    return Packed(_as_records(cases), tables.whole(), tracks.whole())


def _as_records(cases: NDArray[np.void]) -> NDArray[np.void]:
    """Without compilation, `case.name` needs records that know their names as attributes."""
    return cases.view(np.recarray) if numba.config.DISABLE_JIT else cases  # type: ignore[attr-defined]


def _fill_vehicle(record: Any, vehicle: Vehicle, step: float) -> None:
    for owner, kind in ((vehicle.car, Car), (vehicle, Vehicle)):
        for name in declarations(kind):
            record[name] = getattr(owner, name)
    record["total_mass"] = vehicle.total_mass
    record["pitch_lever"] = vehicle.car.sprung_mass * vehicle.cg_height + vehicle.car.unsprung_mass.sum() * vehicle.car.tyre_radius
    record["mass_ahead"] = vehicle.car.unsprung_mass @ vehicle.car.arm / vehicle.total_mass
    record["arm"], record["side"] = vehicle.car.arm, vehicle.car.side
    record["extended_ratio"] = extended_ratio(vehicle)
    record["rise_left"] = exp(-0.5 * step / vehicle.valve_rise)
    record["fall_left"] = exp(-0.5 * step / vehicle.valve_fall)
    record["wheel_left"] = exp(-step / vehicle.wheel_time)
    record["step"] = step


def extended_ratio(vehicle: Vehicle) -> Array:
    """Motion ratio at full extension, (4,), from the one at ride height: s = (r - k w) w + k w²/2 solved for the ride's w. [1]"""
    ratio, rise, travel = vehicle.car.motion_ratio, vehicle.motion_ratio_rise, vehicle.car.static_travel
    return np.sqrt(np.maximum(ratio * ratio - 2.0 * rise * travel, 1e-4))


def _add_map(tables: _Joined, damper_map: DamperMap) -> int:
    return tables.add(damper_map, lambda: damper_map.packed)


def _tracks(course: Course) -> Array:
    ground, drive = course.ground, course.drive
    return np.stack([ground.left, ground.right, drive.speed, drive.curvature, drive.brake, drive.throttle])


class _Joined:
    """Arrays put end to end, each object once."""

    def __init__(self, axis: int) -> None:
        self._axis = axis
        self._parts: list[Array] = []
        self._starts: dict[int, int] = {}
        self._size = 0

    def add(self, owner: Any, make: Any) -> int:
        """Start of the array of `owner`, made when it is new."""
        if id(owner) not in self._starts:
            part = np.asarray(make(), float)
            self._starts[id(owner)] = self._size
            self._parts.append(part)
            self._size += part.shape[self._axis]
        return self._starts[id(owner)]

    def whole(self) -> Array:
        return np.ascontiguousarray(np.concatenate(self._parts, axis=self._axis))

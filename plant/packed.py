"""Vehicles and courses packed as the kernel takes them: a record per case, damper tables and tracks joined end to end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import exp
from typing import Any, Final

import numba
import numpy as np
from numpy.typing import NDArray

from dualduty.car import Car
from dualduty.damper_map import DamperMap
from dualduty.parameters import declarations
from dualduty.signals import SIDES
from plant.course import Course
from plant.damper_table import packed_map, packed_zone
from plant.rows import COIL, HELD_AT, MAGNET, OIL, REACHED, ROWS, STATE_SIZE
from plant.vehicle import Vehicle, Zone

Array = NDArray[np.float64]

_CORNERS: Final = (4,)
_NEWTON: Final = 30  # far more than a smooth curve needs
_LEAST_RATIO: Final = 0.01
_DERIVED: Final = (
    ("total_mass", "f8"), ("pitch_lever", "f8"), ("mass_ahead", "f8"), ("mass_left", "f8"), ("per_wheelbase", "f8"),
    ("swing", "f8"), ("counter_swing", "f8"),
    ("arm", "f8", _CORNERS), ("side", "f8", _CORNERS), ("per_track", "f8", _CORNERS), ("extended_ratio", "f8", _CORNERS),
    ("lift_braking", "f8", _CORNERS), ("lift_driving", "f8", _CORNERS), ("unpowered", "f8", (8,)),
    ("per_total_mass", "f8"), ("per_sprung_mass", "f8"), ("per_roll_inertia", "f8"), ("per_pitch_inertia", "f8"),
    ("per_yaw_inertia", "f8"), ("per_unsprung_mass", "f8", _CORNERS), ("per_spin_mass", "f8", _CORNERS),
    ("per_static_wheel_load", "f8", _CORNERS), ("per_slip_scale", "f8"), ("per_drive_slip_scale", "f8"), ("per_relaxation", "f8"),
    ("rise_left", "f8"), ("fall_left", "f8"), ("delay_steps", "i8"), ("step", "f8"),
    ("compression_map", "i8", _CORNERS), ("rebound_map", "i8", _CORNERS),
    ("compression_zone", "i8", _CORNERS), ("rebound_zone", "i8", _CORNERS),
    ("track_start", "i8"), ("track_count", "i8"), ("per_track_step", "f8"), ("ticks", "i8"),
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
        for side, corner in product(SIDES, range(4)):
            record[f"{side}_map"][corner] = _add_map(tables, vehicle.damper_map(side, corner))
            record[f"{side}_zone"][corner] = _add_zone(tables, vehicle.zone(side, corner))
        record["track_start"] = tracks.add(course, lambda course=course: _tracks(course))
        record["track_count"] = course.ground.left.size
        record["per_track_step"] = 1.0 / course.ground.step
        record["ticks"] = round(course.duration / tick)
    return Packed(_as_records(cases), tables.whole(), tracks.whole())


def starting_rows(packed: Packed, states: Array, duty: Any = 0.0) -> Array:
    """Rows of the plant, (case, row), with valves at rest at their duties and oil and coils at their start temperature.

    states : (case, STATE_SIZE) array
        Start, rows of `plant.rows`.
    duty : float, (8,) or (case, 8) array
        Duties of the four compression and the four rebound valves. [1]
    """
    cases = packed.cases
    rows = np.zeros((len(cases), ROWS + 8 * (int(cases["delay_steps"].max()) + 1)))
    rows[:, :STATE_SIZE] = states
    put_duties(packed, rows, np.broadcast_to(np.asarray(duty, float), (len(cases), 8)))
    rows[:, HELD_AT + OIL : HELD_AT + OIL + 4] = cases["oil_start"]
    rows[:, HELD_AT + COIL : HELD_AT + COIL + 8] = np.tile(cases["oil_start"], 2)
    return rows


def put_duties(packed: Packed, rows: Array, duty: Array) -> None:
    """Let the valves rest at `duty`, (case, 8), as if it had long been commanded; NaN is a valve that has long been without power."""
    dead, magnet = packed.cases["valve_deadband"][:, None], rows[:, HELD_AT + MAGNET : HELD_AT + MAGNET + 8]
    magnet[:] = np.where(np.isnan(duty), packed.cases["unpowered"], duty)
    rows[:, HELD_AT + REACHED : HELD_AT + REACHED + 8] = np.maximum(magnet - dead, 0.0) / (1.0 - dead)
    pending = rows[:, ROWS:].reshape(len(rows), -1, 8)
    pending[:] = rows[:, None, HELD_AT + MAGNET : HELD_AT + MAGNET + 8]


def _as_records(cases: NDArray[np.void]) -> NDArray[np.void]:
    """Without compilation, `case.name` needs records that know their names as attributes."""
    return cases.view(np.recarray) if numba.config.DISABLE_JIT else cases  # type: ignore[attr-defined]


def _fill_vehicle(record: Any, vehicle: Vehicle, step: float) -> None:
    car = vehicle.car
    for owner, kind in ((car, Car), (vehicle, Vehicle)):
        for name in declarations(kind):
            record[name] = getattr(owner, name)
    record["total_mass"] = vehicle.total_mass
    record["pitch_lever"] = car.sprung_mass * vehicle.cg_height + car.unsprung_mass.sum() * car.tyre_radius
    record["mass_ahead"] = car.unsprung_mass @ car.arm / vehicle.total_mass
    record["mass_left"] = car.unsprung_mass @ vehicle.side / vehicle.total_mass
    record["per_wheelbase"] = 1.0 / car.wheelbase
    record["arm"], record["side"] = car.arm, vehicle.side
    record["per_track"] = 0.5 / car.half_track
    record["swing"], record["counter_swing"], record["per_roll_inertia"] = swing_of(vehicle)
    for name in ("sprung_mass", "pitch_inertia", "unsprung_mass", "static_wheel_load"):
        record[f"per_{name}"] = 1.0 / getattr(car, name)
    for name in ("total_mass", "yaw_inertia", "spin_mass", "slip_scale", "drive_slip_scale", "relaxation"):
        record[f"per_{name}"] = 1.0 / getattr(vehicle, name)
    record["extended_ratio"] = extended_ratio(vehicle)
    record["lift_braking"], record["lift_driving"] = link_lifts(vehicle)
    record["unpowered"][:4], record["unpowered"][4:] = vehicle.unpowered_compression, vehicle.unpowered_rebound
    record["unpowered"] = vehicle.valve_deadband + (1.0 - vehicle.valve_deadband) * record["unpowered"]  # before the deadband
    record["rise_left"] = exp(-0.5 * step / vehicle.valve_rise)
    record["fall_left"] = exp(-0.5 * step / vehicle.valve_fall)
    record["delay_steps"] = round(vehicle.valve_delay / step)
    record["step"] = step


def swing_of(vehicle: Vehicle) -> tuple[float, float, float]:
    """How far wheels swing out [m] and the body back [m] per roll angle, and 1 / roll inertia so constrained. [1/(kg·m²)]

    The body turns about its roll axis, a lever below its centre of gravity; the centre of gravity of the whole stays where the
    tyres' side forces leave it. Tyres that hold the wheels make that I + m d² about the roll axis, free ones I + m mu/M d².
    """
    car = vehicle.car
    lever = vehicle.cg_height - np.broadcast_to(vehicle.roll_centre, 4)
    middle = (lever[0] * car.rear_arm + lever[2] * car.front_arm) / car.wheelbase
    swing = car.sprung_mass / vehicle.total_mass * middle
    return swing, middle - swing, 1.0 / (car.roll_inertia + swing * float(car.unsprung_mass @ lever))


def link_lifts(vehicle: Vehicle) -> tuple[Array, Array]:
    """Force that the links push the body up with, per force along each wheel, while braking and while driving: (4,), (4,). [1]

    Of a braking force B at the front, B_front = B · share; all of the load transfer B·h/L goes through the links when each
    newton at the front lifts h / (L · share): that is anti-dive of 100 %. The other three alike.
    """
    height = (vehicle.car.sprung_mass * vehicle.cg_height + vehicle.car.unsprung_mass.sum() * vehicle.car.tyre_radius) / vehicle.total_mass
    slope = height / vehicle.car.wheelbase
    braking = [-_per_share(vehicle.anti_dive, vehicle.brake_front), _per_share(vehicle.anti_lift, 1.0 - vehicle.brake_front)]
    driving = [-_per_share(vehicle.anti_rise, vehicle.drive_front), _per_share(vehicle.anti_squat, 1.0 - vehicle.drive_front)]
    return slope * np.repeat(braking, 2), slope * np.repeat(driving, 2)


def _per_share(anti: float, share: float) -> float:
    return anti / share if share > 0.0 else 0.0


def extended_ratio(vehicle: Vehicle) -> Array:
    """Motion ratio at full extension, (4,), so that it is the car's at ride height: Newton's method for the ride's wheel travel. [1]"""
    ratio, rise, bend, travel = vehicle.car.motion_ratio, vehicle.motion_ratio_rise, vehicle.motion_ratio_bend, vehicle.car.static_travel
    wheel = travel / ratio
    for _ in range(_NEWTON):
        extended = ratio - rise * wheel - 0.5 * bend * wheel**2
        short = travel - wheel * (extended + 0.5 * rise * wheel + bend * wheel**2 / 6.0)
        wheel = wheel + short / (ratio - rise * wheel - bend * wheel**2)
    return np.maximum(ratio - rise * wheel - 0.5 * bend * wheel**2, _LEAST_RATIO)


def _add_map(tables: _Joined, damper_map: DamperMap) -> int:
    return tables.add(damper_map, lambda: packed_map(damper_map))


def _add_zone(tables: _Joined, zone: Zone | None) -> int:
    return -1 if zone is None else tables.add(zone, lambda: packed_zone(zone.travels, zone.multipliers))


def _tracks(course: Course) -> Array:
    ground, drive = course.ground, course.drive
    wishes = [drive.speed, drive.curvature, drive.brake, drive.throttle, drive.steer, drive.hold, drive.coast]
    return np.stack([ground.left, ground.right, *wishes])


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

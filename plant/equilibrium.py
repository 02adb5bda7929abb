"""Where a vehicle rests: standing on the ground, hanging in flight; and its rates at any state."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.units import STANDARD_GRAVITY
from plant.course import Course, Drive, Ground
from plant.packed import Packed, pack, starting_rows
from plant.rows import HEAVE, HELD_AT, HUB, HUB_SPEED, MOVING, PITCH, RATE_AT, REPORT_AT, ROLL, ROWS, SPEED, STATE_SIZE, TRAVEL, WHEEL
from plant.tick import advance
from plant.vehicle import Vehicle

Array = NDArray[np.float64]

_ITERATIONS: Final = 40
_NUDGE: Final = 1e-7  # m and rad, for slopes by differences


def evaluate(packed: Packed, rows: Array) -> None:
    """Fill rates and reports of (case, row) `rows` from their states and valves, without moving on."""
    count = len(packed.cases)
    none = np.zeros((0, 1, count))
    advance(packed.cases, packed.tables, packed.tracks, np.zeros((8, 1, count)), 0, 0, 0, rows, none, none.copy(), np.full(count, -1.0))


def flat_course(left: float = 0.0, right: float = 0.0) -> Course:
    """Level ground at the given heights, standing still. [m]"""
    zero = np.zeros(2)
    ground = Ground(1.0, np.full(2, left), np.full(2, right))
    return Course("flat", ground, Drive(0.0, zero, zero, zero, zero), 1.0)


def rates_at(vehicle: Vehicle, states: Array, course: Course | None = None, duty: Any = 0.0) -> tuple[Array, Array]:
    """Rates and reports at (point, STATE_SIZE) states of `plant.rows`, on level ground or a course, valves at `duty`, one or (8,)."""
    count = len(states)
    packed = pack([vehicle] * count, [course or flat_course()] * count, 1e-3, 2e-3)
    rows = starting_rows(packed, states, duty)
    evaluate(packed, rows)
    return rows[:, RATE_AT:HELD_AT], rows[:, REPORT_AT:ROWS]


def standing(vehicle: Vehicle, left: float = 0.0, right: float = 0.0) -> Array:
    """State, (STATE_SIZE,), at rest on ground of these heights [m]: Newton's method from the nominal ride height."""
    course = flat_course(left, right)
    state = _nominal(vehicle, left, right)
    for _ in range(_ITERATIONS):
        points = np.tile(state, (MOVING + 1, 1))
        points[1:, :MOVING] += _NUDGE * np.eye(MOVING)
        forces = rates_at(vehicle, points, course)[0][:, MOVING : 2 * MOVING]
        slopes = (forces[1:] - forces[0]).T / _NUDGE
        move = np.linalg.lstsq(slopes, -forces[0], rcond=None)[0]
        state[:MOVING] += np.clip(move, -0.05, 0.05)
        if np.abs(move).max() < 1e-11:  # noqa: PLR2004 - m, far below what springs feel
            return state
    raise BadInput(vehicle.car.name, "does not come to rest on level ground; are springs, stroke and masses plausible?")


def _nominal(vehicle: Vehicle, left: float, right: float) -> Array:
    car = vehicle.car
    state = np.zeros(STATE_SIZE)
    hubs = car.tyre_radius - car.static_wheel_load / vehicle.tyre_rate + np.array([left, right, left, right])
    drop = vehicle.extended_drop - car.static_travel / car.motion_ratio
    state[HUB : HUB + 4] = hubs
    state[HEAVE] = (hubs + drop).mean()
    state[ROLL] = (left - right) / (2.0 * car.half_track.mean())
    state[PITCH] = 0.0
    return state


def hanging(vehicle: Vehicle) -> Array:
    """Shaft travel, (4,), at which each corner rests in flight, where no strut pushes: by bisection. [m]"""
    car = vehicle.car
    low, high = np.full(4, -0.05), car.stroke / car.motion_ratio
    middle = travel = low
    for _ in range(60):
        middle = 0.5 * (low + high)
        state = np.zeros(STATE_SIZE)
        state[HEAVE] = 100.0  # m, clear of the ground
        state[HUB : HUB + 4] = 100.0 - vehicle.extended_drop + middle
        rate, report = rates_at(vehicle, state[None])
        travel = report[0, TRAVEL : TRAVEL + 4]
        pushing = rate[0, HUB_SPEED : HUB_SPEED + 4] + STANDARD_GRAVITY < 0.0
        high, low = np.where(pushing, middle, high), np.where(pushing, low, middle)
    return travel


def starting_states(courses: Sequence[Course], vehicles: Sequence[Vehicle]) -> Array:
    """States of all cases at rest on their springs, rolling at the start speed: (case, STATE_SIZE)."""
    states = np.zeros((len(courses), STATE_SIZE))
    known: dict[tuple[int, float, float], Array] = {}
    for state, course, vehicle in zip(states, courses, vehicles, strict=True):
        key = (id(vehicle), float(course.ground.left[0]), float(course.ground.right[0]))
        if key not in known:
            known[key] = standing(vehicle, key[1], key[2])
        state[:] = rolling(known[key], course.drive.start_speed)
    return states


def rolling(state: Array, speed: float) -> Array:
    """A state, (STATE_SIZE,), with the vehicle and its wheels at a speed ahead [m/s]."""
    moving = state.copy()
    moving[SPEED] = moving[WHEEL : WHEEL + 4] = speed
    return moving

"""A steady state of the vehicle: standing, rolling, cornering or braking, with what the driver must hold for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from plant.course import Course, Drive, Ground
from plant.equilibrium import evaluate, rolling, standing
from plant.packed import pack, starting_rows
from plant.rows import (
    BRAKE,
    DISTANCE,
    HELD_AT,
    RATE_AT,
    REPORT_AT,
    ROWS,
    SERIES_FORCE,
    SIDE_SPEED,
    SLIP_ACROSS,
    SPEED,
    STEER,
    THROTTLE,
    WHEEL,
    YAW_RATE,
)  # fmt: skip
from plant.vehicle import Vehicle

Array = NDArray[np.float64]

CELLS: Final = 8  # of the ground's grid in a wheelbase: each wheel stands in the middle of one of its own
_ITERATIONS: Final = 60
_NUDGE: Final = 1e-6
_CLOSE: Final = 1e-7  # m/s², rad/s², 1/s; rounding leaves 1e-9


@dataclass(frozen=True, eq=False)
class OperatingPoint:
    """A vehicle in a steady state.

    state : (STATE_SIZE,) array
        Rows of `plant.rows`.
    duty : (8,) array
        Four compression, four rebound duties. [1]
    steer, throttle, brake : float
        What the driver holds. [rad, 1, 1]
    """

    vehicle: Vehicle
    state: Array
    duty: Array
    steer: float = 0.0
    throttle: float = 0.0
    brake: float = 0.0

    @property
    def speed(self) -> float:
        """Speed ahead. [m/s]"""
        return float(self.state[SPEED])


@dataclass(frozen=True, eq=False)
class Nudge:
    """What differs from an operating point: state, ground under each wheel [m] and its slope [1], and the driver's three."""

    state: Any = 0.0
    ground: Any = 0.0
    slope: Any = 0.0
    steer: float = 0.0
    throttle: float = 0.0
    brake: float = 0.0


def evaluated(point: OperatingPoint, nudges: Sequence[Nudge]) -> tuple[Array, Array, Array]:
    """States (n, STATE_SIZE), their rates and reports at nudges of an operating point."""
    courses = [_ground_under(point.vehicle, nudge) for nudge in nudges]
    packed = pack([point.vehicle] * len(nudges), courses, 1e-3, 2e-3)
    states = np.stack([point.state + nudge.state for nudge in nudges])
    states[:, DISTANCE] = (2 * CELLS + 0.5) * point.vehicle.car.wheelbase / CELLS
    rows = starting_rows(packed, states, point.duty)
    for row, nudge in zip(rows, nudges, strict=True):
        row[HELD_AT + STEER] = point.steer + nudge.steer
        row[HELD_AT + THROTTLE] = point.throttle + nudge.throttle
        row[HELD_AT + BRAKE] = point.brake + nudge.brake
    evaluate(packed, rows)
    return states, rows[:, RATE_AT:HELD_AT], rows[:, REPORT_AT:ROWS]


def _ground_under(vehicle: Vehicle, nudge: Nudge) -> Course:
    """Level ground but for the two grid points round each wheel."""
    step = vehicle.car.wheelbase / CELLS
    tracks = np.zeros((2, 3 * CELLS + 2))
    heights, slopes = np.broadcast_to(nudge.ground, 4), np.broadcast_to(nudge.slope, 4)
    for corner in range(4):
        before = 2 * CELLS if corner < 2 else CELLS  # noqa: PLR2004 - two front corners
        tracks[corner % 2, before : before + 2] = heights[corner] + 0.5 * step * slopes[corner] * np.array([-1.0, 1.0])
    zero = np.zeros(tracks.shape[1])
    return Course("under the wheels", Ground(step, *tracks), Drive(0.0, zero, zero, zero, zero), 1.0)


def steady_point(
    vehicle: Vehicle, speed: float = 0.0, duty: Any = 0.0, *, lateral: float = 0.0, ahead: float = 0.0,
) -> OperatingPoint:  # fmt: skip
    """The steady state on level ground at a speed [m/s], a lateral acceleration [m/s²] and one ahead (braking: negative) [m/s²].

    Standing still nothing but the springs has to balance. In motion all rates vanish but the speeds', which grow as asked;
    the driver's steer and pedal are found with the state by Newton's method. BadInput where tyres or pedals don't give that much.
    """
    duties = np.broadcast_to(np.asarray(duty, float), 8).copy()
    point = OperatingPoint(vehicle, rolling(standing(vehicle), speed), duties)
    if speed == 0.0:
        if lateral or ahead:
            raise BadInput("operating point", "a vehicle that stands still neither corners nor brakes; expected a speed")
        return point
    if lateral:
        point.state[YAW_RATE] = lateral / speed
    return _settled(point, lateral, ahead)


def _settled(point: OperatingPoint, lateral: float, ahead: float) -> OperatingPoint:
    """Newton's method over the state but distance, speed and series forces (none at rest), and over steer and pedal (brake below 0)."""
    free = [row for row in range(SERIES_FORCE) if row not in {DISTANCE, SPEED}]
    steer, pedal, state = 0.0, ahead * point.vehicle.total_mass / max(point.vehicle.brake_force, 1.0), point.state.copy()
    for _ in range(_ITERATIONS):
        now = OperatingPoint(point.vehicle, state, point.duty, steer, max(pedal, 0.0), max(-pedal, 0.0))
        missing, slopes = _balance(now, free, pedal, lateral, ahead)
        if np.abs(missing).max() < _CLOSE:
            return now
        move = np.linalg.lstsq(slopes, -missing, rcond=1e-13)[0]
        move *= min(1.0, 0.3 / float(np.abs(move).max()))
        state[free] += move[:-2]
        steer, pedal = steer + float(move[-2]), pedal + float(move[-1])
        if abs(pedal) > 1.0:
            break
    raise BadInput(
        point.vehicle.car.name,
        f"no steady state at {point.speed:g} m/s with {lateral:g} m/s² to the left and {ahead:g} m/s² ahead: "
        "more than its tyres, engine or brakes give",
    )


def _balance(now: OperatingPoint, free: list[int], pedal: float, lateral: float, ahead: float) -> tuple[Array, Array]:
    """What is missing to the steady state, and its slopes over the free rows, steer and pedal."""
    nudges = [Nudge()]
    for row in free:
        moved = np.zeros(now.state.size)
        moved[row] = _NUDGE
        nudges.append(Nudge(state=moved))
    nudges.append(Nudge(steer=_NUDGE))
    nudges.append(Nudge(throttle=_NUDGE) if pedal >= 0.0 else Nudge(brake=-_NUDGE))
    states, rates, _ = evaluated(now, nudges)
    wanted = np.zeros(rates.shape[1])
    wanted[[SPEED, *range(WHEEL, WHEEL + 4)]] = ahead
    rows = [*range(DISTANCE), SPEED, SIDE_SPEED, YAW_RATE, *range(WHEEL, SLIP_ACROSS + 4)]
    errors = (rates - wanted)[:, rows]
    turned = (states[:, YAW_RATE] * now.speed - lateral)[:, None]
    together = np.concatenate([errors, turned], axis=1)
    return together[0], (together[1:] - together[0]).T / _NUDGE

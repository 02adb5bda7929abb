"""What one case hands over at an instant: what its sensors feel, and the truth behind them."""

from __future__ import annotations

import math
from typing import Any, Final

from numpy import float64
from numpy.typing import NDArray

from dualduty.kernels import inline
from dualduty.signals import CONTROLLER_LAYOUT, TRUTH_LAYOUT
from dualduty.units import STANDARD_GRAVITY
from plant.rows import (
    AHEAD,
    BEYOND,
    BRAKE,
    DAMPER,
    DISTANCE,
    GROUND,
    HEAVE,
    HEAVE_SPEED,
    LEFT,
    LOAD,
    OIL,
    PITCH,
    PITCH_RATE,
    REACHED,
    ROLL,
    ROLL_RATE,
    SHAFT_SPEED,
    SPEED,
    STEER,
    STOP,
    THROTTLE,
    TRAVEL,
    WHEEL,
    YAW_RATE,
)  # fmt: skip
from plant.valve import coil_current

Array = NDArray[float64]

_FELT: Final = {name: rows.start for name, rows in CONTROLLER_LAYOUT.rows.items()}
_TRUE: Final = {name: rows.start for name, rows in TRUTH_LAYOUT.rows.items()}
_FELT_TRAVEL: Final = _FELT["shaft_travel"]
_FELT_FORCE: Final = _FELT["specific_force_x"]
_FELT_RATES: Final = _FELT["roll_rate"]
_FELT_WHEELS: Final = _FELT["wheel_speed"]
_FELT_DRIVER: Final = _FELT["steer_angle"]
_FELT_APPLIED: Final = _FELT["applied_compression"]
_SEAT: Final = _TRUE["seat_acceleration_z"]
_BODY: Final = _TRUE["body_acceleration_z"]
_LOAD: Final = _TRUE["wheel_load"]
_STOP: Final = _TRUE["stop_force"]
_TRAVEL: Final = _TRUE["true_travel"]
_SHAFT_SPEED: Final = _TRUE["true_shaft_speed"]
_DAMPER: Final = _TRUE["damper_force"]
_BEYOND: Final = _TRUE["beyond_map"]
_OIL: Final = _TRUE["oil_temperature"]
_CURRENT_COMPRESSION: Final = _TRUE["current_compression"]
_CURRENT_REBOUND: Final = _TRUE["current_rebound"]
_REACHED_COMPRESSION: Final = _TRUE["reached_compression"]
_REACHED_REBOUND: Final = _TRUE["reached_rebound"]
_ROLL: Final = _TRUE["roll"]
_PITCH: Final = _TRUE["pitch"]
_HEAVE: Final = _TRUE["heave"]
_SPEED: Final = _TRUE["speed"]
_DISTANCE: Final = _TRUE["distance"]
_GROUND: Final = _TRUE["ground_height"]


@inline
def feel(state: Array, rate: Array, held: Array, report: Array, command: Array, felt: Array, at: tuple[int, int]) -> None:  # noqa: PLR0913 - all that is known of an instant
    """Fill `felt`, rows of CONTROLLER_LAYOUT, with what sensors without error would give, and the duties applied, at time and case `at`.

    Accelerometer and gyros turn with the body; the one feels what is not free fall: +g up at rest, nothing in flight. A
    turn by small angles makes a vector longer; what is felt is brought back to its length: g at rest on any slope.
    """
    up = rate[HEAVE_SPEED] + STANDARD_GRAVITY
    roll, pitch = state[ROLL], state[PITCH]
    longer = math.sqrt(1.0 + roll * roll + pitch * pitch)
    felt[_FELT_FORCE, at[0], at[1]] = (report[AHEAD] - pitch * up) / longer
    felt[_FELT_FORCE + 1, at[0], at[1]] = (report[LEFT] + roll * up) / longer
    felt[_FELT_FORCE + 2, at[0], at[1]] = (up + pitch * report[AHEAD] - roll * report[LEFT]) / longer
    felt[_FELT_RATES, at[0], at[1]] = state[ROLL_RATE] - pitch * state[YAW_RATE]
    felt[_FELT_RATES + 1, at[0], at[1]] = state[PITCH_RATE] + roll * state[YAW_RATE]
    felt[_FELT_RATES + 2, at[0], at[1]] = state[YAW_RATE] - roll * state[PITCH_RATE]
    felt[_FELT_DRIVER, at[0], at[1]] = held[STEER]
    felt[_FELT_DRIVER + 1, at[0], at[1]] = held[BRAKE]
    felt[_FELT_DRIVER + 2, at[0], at[1]] = held[THROTTLE]
    for corner in range(4):
        felt[_FELT_TRAVEL + corner, at[0], at[1]] = report[TRAVEL + corner]
        felt[_FELT_WHEELS + corner, at[0], at[1]] = state[WHEEL + corner]
    for valve in range(8):
        felt[_FELT_APPLIED + valve, at[0], at[1]] = command[valve]


@inline
def note_truth(case: Any, state: Array, rate: Array, held: Array, report: Array, command: Array, truth: Array, at: tuple[int, int]) -> None:  # noqa: PLR0913, PLR0917 - as feel
    """Fill `truth`, rows of TRUTH_LAYOUT, at time and case `at`."""
    seat = (case.seat_left - case.cg_left) * rate[ROLL_RATE] - case.seat_ahead * rate[PITCH_RATE]
    truth[_SEAT, at[0], at[1]] = rate[HEAVE_SPEED] + seat
    truth[_BODY, at[0], at[1]] = rate[HEAVE_SPEED]
    truth[_ROLL, at[0], at[1]] = state[ROLL]
    truth[_PITCH, at[0], at[1]] = state[PITCH]
    truth[_HEAVE, at[0], at[1]] = state[HEAVE]
    truth[_SPEED, at[0], at[1]] = state[SPEED]
    truth[_DISTANCE, at[0], at[1]] = state[DISTANCE]
    for corner in range(4):
        truth[_LOAD + corner, at[0], at[1]] = report[LOAD + corner]
        truth[_STOP + corner, at[0], at[1]] = report[STOP + corner]
        truth[_TRAVEL + corner, at[0], at[1]] = report[TRAVEL + corner]
        truth[_SHAFT_SPEED + corner, at[0], at[1]] = report[SHAFT_SPEED + corner]
        truth[_DAMPER + corner, at[0], at[1]] = report[DAMPER + corner]
        truth[_GROUND + corner, at[0], at[1]] = report[GROUND + corner]
        truth[_BEYOND + corner, at[0], at[1]] = report[BEYOND + corner]
        truth[_OIL + corner, at[0], at[1]] = held[OIL + corner]
        truth[_CURRENT_COMPRESSION + corner, at[0], at[1]] = coil_current(case, held, command, corner)
        truth[_CURRENT_REBOUND + corner, at[0], at[1]] = coil_current(case, held, command, 4 + corner)
        truth[_REACHED_COMPRESSION + corner, at[0], at[1]] = held[REACHED + corner]
        truth[_REACHED_REBOUND + corner, at[0], at[1]] = held[REACHED + 4 + corner]

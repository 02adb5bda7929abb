"""What one case hands over at an instant: what its sensors feel, and the truth behind them."""

from __future__ import annotations

from typing import Any, Final

from numpy import float64, floor
from numpy.typing import NDArray

from dualduty.kernels import inline
from dualduty.signals import CONTROLLER_LAYOUT, TRUTH_LAYOUT
from dualduty.units import STANDARD_GRAVITY
from plant.rows import (
    AHEAD,
    BRAKE,
    DAMPER,
    DISTANCE,
    GROUND,
    HEAVE,
    HEAVE_SPEED,
    LEFT,
    LOAD,
    PITCH,
    PITCH_RATE,
    REACHED,
    ROLL,
    ROLL_RATE,
    SHAFT_SPEED,
    SPEED,
    SPIN,
    STEER,
    STOP,
    THROTTLE,
    TRAVEL,
    YAW_RATE,
)  # fmt: skip
from plant.wheel_spin import ground_speed

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
_REACHED_COMPRESSION: Final = _TRUE["reached_compression"]
_REACHED_REBOUND: Final = _TRUE["reached_rebound"]
_ROLL: Final = _TRUE["roll"]
_PITCH: Final = _TRUE["pitch"]
_HEAVE: Final = _TRUE["heave"]
_SPEED: Final = _TRUE["speed"]
_DISTANCE: Final = _TRUE["distance"]
_GROUND: Final = _TRUE["ground_height"]


@inline
def feel(case: Any, state: Array, rate: Array, held: Array, report: Array, felt: Array) -> None:
    """Fill `felt`, rows of CONTROLLER_LAYOUT, with what sensors without error would give; the applied duties are not set.

    The accelerometer turns with the body and feels what is not free fall: +g up at rest, nothing in flight.
    """
    up = rate[HEAVE_SPEED] + STANDARD_GRAVITY
    roll, pitch = state[ROLL], state[PITCH]
    felt[_FELT_FORCE] = report[AHEAD] - pitch * up
    felt[_FELT_FORCE + 1] = report[LEFT] + roll * up
    felt[_FELT_FORCE + 2] = up + pitch * report[AHEAD] - roll * report[LEFT]
    felt[_FELT_RATES] = state[ROLL_RATE]
    felt[_FELT_RATES + 1] = state[PITCH_RATE]
    felt[_FELT_RATES + 2] = state[YAW_RATE]
    felt[_FELT_DRIVER] = held[STEER]
    felt[_FELT_DRIVER + 1] = held[BRAKE]
    felt[_FELT_DRIVER + 2] = held[THROTTLE]
    for corner in range(4):
        felt[_FELT_TRAVEL + corner] = report[TRAVEL + corner]
        felt[_FELT_WHEELS + corner] = ground_speed(case, state, corner) + held[SPIN + corner]


@inline
def sense(felt: Array, duty: Array, disturbance: Array, grid: Array, sensed: Array) -> None:
    """Fill `sensed` from what is felt, the duties applied, the sensors' disturbance (NaN: nothing came) and their grid."""
    for row in range(sensed.shape[0]):
        true = duty[row - _FELT_APPLIED] if row >= _FELT_APPLIED else felt[row]
        disturbed = true + disturbance[row]
        sensed[row] = floor(0.5 + disturbed / grid[row]) * grid[row] if grid[row] > 0.0 else disturbed


@inline
def note_truth(case: Any, state: Array, rate: Array, held: Array, report: Array, truth: Array) -> None:
    """Fill `truth`, rows of TRUTH_LAYOUT."""
    seat = case.seat_left * rate[ROLL_RATE] - case.seat_ahead * rate[PITCH_RATE]
    truth[_SEAT] = rate[HEAVE_SPEED] + seat
    truth[_BODY] = rate[HEAVE_SPEED]
    truth[_ROLL] = state[ROLL]
    truth[_PITCH] = state[PITCH]
    truth[_HEAVE] = state[HEAVE]
    truth[_SPEED] = state[SPEED]
    truth[_DISTANCE] = state[DISTANCE]
    for corner in range(4):
        truth[_LOAD + corner] = report[LOAD + corner]
        truth[_STOP + corner] = report[STOP + corner]
        truth[_TRAVEL + corner] = report[TRAVEL + corner]
        truth[_SHAFT_SPEED + corner] = report[SHAFT_SPEED + corner]
        truth[_DAMPER + corner] = report[DAMPER + corner]
        truth[_GROUND + corner] = report[GROUND + corner]
        truth[_REACHED_COMPRESSION + corner] = held[REACHED + corner]
        truth[_REACHED_REBOUND + corner] = held[REACHED + 4 + corner]

"""Turning wheels: driven and braked, held by their tyres, racing in the air on throttle."""

from __future__ import annotations

from math import sqrt
from typing import Any, Final

from numpy import float64
from numpy.typing import NDArray

from dualduty.kernels import inline
from plant.rows import ALONG, BRAKE, LOAD, SIDE_SPEED, SLIP_ACROSS, SLIP_ALONG, SPEED, STEER, THROTTLE, WHEEL, YAW_RATE, Number
from plant.rows import SIDE as SIDE_ROW
from plant.tyre import grip_forces, slip_rate

Array = NDArray[float64]

LIMITER: Final = 2.0  # m/s of wheel speed over which the engine's limiter closes
BRAKE_SMOOTH: Final = 0.09  # (0.3 m/s)²: brakes and rolling resistance turn round smoothly at standstill


@inline
def ground_speed(case: Any, state: Array, corner: int) -> Number:
    """Speed of the vehicle at a wheel, ahead. [m/s]"""
    return state[SPEED] - case.side[corner] * state[YAW_RATE]


@inline
def drive_at(case: Any, throttle: float, wheel_speed: float) -> Number:
    """Driving force of all wheels at a wheel speed [m/s], less towards the engine's limiter. [N]"""
    if throttle <= 0.0:
        return 0.0
    full = min(case.drive_force, case.drive_power / max(wheel_speed, 1.0))
    return throttle * full * min(max((case.top_wheel_speed - wheel_speed) * (1.0 / LIMITER), 0.0), 1.0)


@inline
def roll_wheels(case: Any, state: Array, held: Array, rate: Array, report: Array) -> Number:
    """Fill the forces of the tyres along and across the wheels, and the rates of wheel speeds and slips.

    Gives the sum of what spins the wheels up [N at the tyre radius]: it turns the body the other way.
    """
    spun = 0.0
    for axle in range(2):
        first = 2 * axle
        steered = held[STEER] if axle == 0 else 0.0
        drive = drive_at(case, held[THROTTLE], 0.5 * (state[WHEEL + first] + state[WHEEL + first + 1]))
        drive *= 0.5 * (case.drive_front if axle == 0 else 1.0 - case.drive_front)
        brake = 0.5 * held[BRAKE] * case.brake_force * (case.brake_front if axle == 0 else 1.0 - case.brake_front)
        across = state[SIDE_SPEED] + case.arm[first] * state[YAW_RATE] - steered * state[SPEED]
        for corner in range(first, first + 2):
            speed, turning = ground_speed(case, state, corner), state[WHEEL + corner]
            slips = state[SLIP_ALONG + corner], state[SLIP_ACROSS + corner]
            along, report[SIDE_ROW + corner] = grip_forces(case, corner, report[LOAD + corner], slips)
            report[ALONG + corner] = along
            rolling = turning / sqrt(turning * turning + BRAKE_SMOOTH)
            spin = drive - rolling * (brake + case.rolling_resistance * report[LOAD + corner]) - along
            rate[WHEEL + corner] = spin * case.per_spin_mass[corner]
            rate[SLIP_ALONG + corner] = slip_rate(case, turning - speed, speed, slips[0])
            rate[SLIP_ACROSS + corner] = slip_rate(case, across, speed, slips[1])
            spun += spin
    return spun

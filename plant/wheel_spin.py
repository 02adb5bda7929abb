"""Wheel speeds: what the ground gives, plus overspeed on throttle or slowing on the brake where there is no grip."""

from __future__ import annotations

from typing import Any

from numpy import float64
from numpy.typing import NDArray

from dualduty.kernels import inline
from plant.rows import BRAKE, SPEED, SPIN, THROTTLE, UNMET, YAW_RATE, Number

Array = NDArray[float64]


@inline
def ground_speed(case: Any, state: Array, corner: int) -> Number:
    """Speed of the vehicle at a wheel, ahead. [m/s]"""
    return state[SPEED] - case.side[corner] * state[YAW_RATE]


@inline
def spin_wheels(case: Any, state: Array, report: Array, held: Array) -> None:
    """Advance each wheel's speed over the ground's [m/s] by a plant step, with a first-order lag."""
    for corner in range(4):
        drag = held[BRAKE] * ground_speed(case, state, corner)
        free = report[UNMET + corner] * (held[THROTTLE] * case.wheel_spin - drag)
        held[SPIN + corner] = free + (held[SPIN + corner] - free) * case.wheel_left

"""Wheel speeds: what the ground gives, or overspeed on throttle and slowing on the brake where there is no grip."""

from __future__ import annotations

from typing import Any

from numpy import float64
from numpy.typing import NDArray

from dualduty.kernels import inline
from plant.rows import BRAKE, SPEED, THROTTLE, UNMET, WHEEL_SPEED, YAW_RATE

Array = NDArray[float64]


@inline
def spin_wheels(case: Any, state: Array, report: Array, held: Array) -> None:
    """Advance the circumferential speeds [m/s] by a plant step, each with a first-order lag."""
    for corner in range(4):
        ground = state[SPEED] - case.side[corner] * state[YAW_RATE]
        drag = held[BRAKE] * ground
        free = report[UNMET + corner] * (held[THROTTLE] * case.wheel_spin - drag)
        held[WHEEL_SPEED + corner] = ground + free + (held[WHEEL_SPEED + corner] - ground - free) * case.wheel_left

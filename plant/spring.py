"""Forces along the shaft that depend on travel: coil spring, gas, bump stop, droop stop; and the motion ratio."""

from __future__ import annotations

from math import sqrt
from typing import Any

from dualduty.kernels import inline
from plant.rows import Number


@inline
def shaft_travel(case: Any, corner: int, wheel_travel: float) -> Number:
    """Shaft travel at a wheel travel, both 0 at full extension. [m]"""
    return wheel_travel * (case.extended_ratio[corner] + 0.5 * case.motion_ratio_rise[corner] * wheel_travel)


@inline
def motion_ratio(case: Any, corner: int, wheel_travel: float) -> Number:
    """Shaft travel per wheel travel. [1]"""
    return case.extended_ratio[corner] + case.motion_ratio_rise[corner] * wheel_travel


@inline
def spring_force(case: Any, corner: int, travel: float) -> Number:
    """Coil spring and gas, pushing the shaft out. [N]"""
    coil = case.spring_rate[corner] * max(travel - case.spring_contact[corner], 0.0)
    return coil + case.gas_force[corner] + case.gas_rate[corner] * travel


@inline
def stop_force(case: Any, corner: int, travel: float, speed: float) -> Number:
    """Bump stop (positive; progressive, with the loss of its rubber) or droop stop (negative), at travel and shaft speed. [N]"""
    if travel < 0.0:
        return case.droop_rate[corner] * travel
    crush = travel - case.bump_contact[corner]
    if crush <= 0.0:
        return 0.0
    loss = 1.0 + case.bump_loss[corner] * speed / sqrt(speed * speed + 0.01)  # 0.1 m/s: smooth through the turning point
    return loss * case.bump_rate[corner] * crush * (1.0 + (crush / case.bump_doubling[corner]) ** 2)

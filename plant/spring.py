"""Forces along the shaft that depend on travel: coil spring, gas, bump stop, metal, droop stop; and the motion ratio."""

from __future__ import annotations

from math import sqrt
from typing import Any

from dualduty.kernels import inline
from plant.rows import Number


@inline
def shaft_travel(case: Any, corner: int, wheel_travel: float) -> Number:
    """Shaft travel at a wheel travel, both 0 at full extension: the integral of the motion ratio. [m]"""
    rise, bend = case.motion_ratio_rise[corner], case.motion_ratio_bend[corner]
    return wheel_travel * (case.extended_ratio[corner] + wheel_travel * (0.5 * rise + wheel_travel * bend * (1.0 / 6.0)))


@inline
def motion_ratio(case: Any, corner: int, wheel_travel: float) -> Number:
    """Shaft travel per wheel travel. [1]"""
    rise, bend = case.motion_ratio_rise[corner], case.motion_ratio_bend[corner]
    return case.extended_ratio[corner] + wheel_travel * (rise + 0.5 * bend * wheel_travel)


@inline
def spring_force(case: Any, corner: int, travel: float) -> Number:
    """Coil spring and gas, pushing the shaft out. [N]"""
    pressed = max(travel - case.spring_contact[corner], 0.0)
    coil = pressed * (case.spring_rate[corner] + 0.5 * case.spring_progression[corner] * pressed)
    second = case.second_rate[corner] * max(travel - case.second_contact[corner], 0.0)
    return coil + second + case.gas_force[corner] + case.gas_rate[corner] * travel


@inline
def stop_force(case: Any, corner: int, travel: float, speed: float) -> Number:
    """Bump stop and metal behind it (positive), or droop stop (negative), at travel [m] and shaft speed [m/s]. [N]

    Rubber is progressive and loses: it gives more going in than coming out. Metal begins where the stroke ends.
    """
    crush = travel - case.bump_contact[corner]
    if crush <= 0.0 <= travel:
        return 0.0
    turning = speed / sqrt(speed * speed + 0.01)  # 0.1 m/s: smooth through the turning point
    if travel < 0.0:
        return case.droop_rate[corner] * travel * (1.0 - case.droop_loss[corner] * turning)
    bulged = crush / case.bump_doubling[corner]
    rubber = case.bump_rate[corner] * crush * (1.0 + bulged * bulged) * (1.0 + case.bump_loss[corner] * turning)
    return rubber + case.metal_rate[corner] * max(travel - case.stroke[corner], 0.0)

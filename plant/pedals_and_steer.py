"""The driver in the loop: speed keeping with pedals, path keeping with the steering wheel, at the plant's rate."""

from __future__ import annotations

from typing import Any

from dualduty.kernels import inline
from dualduty.units import STANDARD_GRAVITY
from plant.rows import Number


@inline
def moved(now: float, wanted: float, reach: float) -> Number:
    """`now`, moved towards `wanted` by at most `reach`."""
    return now + min(max(wanted - now, -reach), reach)


@inline
def wanted_acceleration(case: Any, speed: float, wanted_speed: float) -> Number:
    """What speed keeping asks for, with the rolling resistance fed forward. [m/s²]"""
    return case.speed_gain * (wanted_speed - speed) + case.rolling_resistance * STANDARD_GRAVITY


@inline
def wanted_throttle(case: Any, acceleration: float, floor: float) -> Number:
    """Throttle for an acceleration [m/s²], not below the course's floor. [1]"""
    if case.drive_force <= 0.0:
        return 0.0
    return min(max(acceleration * case.total_mass / case.drive_force, floor, 0.0), 1.0)


@inline
def wanted_brake(case: Any, acceleration: float, extra: float) -> Number:
    """Brake for an acceleration [m/s²] plus the course's extra demand. [1]"""
    if case.brake_force <= 0.0:
        return 0.0
    return min(max(-acceleration * case.total_mass / case.brake_force, 0.0) + extra, 1.0)


@inline
def wanted_steer(case: Any, speed: float, yaw_rate: float, curvature: float) -> Number:
    """Road-wheel angle for a path curvature [1/m]: geometry, understeer, and a correction of the yaw rate. [rad]"""
    feed = curvature * (case.wheelbase + case.steer_feed * speed * speed)
    angle = feed + case.yaw_gain * (curvature * speed - yaw_rate)
    return min(max(angle, -case.steer_limit), case.steer_limit)

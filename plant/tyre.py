"""The tyre: vertical spring that can't pull, and grip shared between driving, braking and side force."""

from __future__ import annotations

from math import sqrt
from typing import Any

from dualduty.kernels import inline
from plant.rows import Number


@inline
def wheel_load(case: Any, corner: int, deflection: float, deflection_speed: float) -> Number:
    """Vertical tyre force at a deflection [m] and its rate [m/s]; 0 off the ground, never a pull. [N]"""
    if deflection <= 0.0:
        return 0.0
    return max(case.tyre_rate[corner] * deflection + case.tyre_damping[corner] * deflection_speed, 0.0)


@inline
def grip_limit(case: Any, corner: int, load: float) -> Number:
    """Largest horizontal force at a load; the friction falls a little with load. [N]"""
    fade = 1.0 - case.grip_fade * (load / case.static_wheel_load[corner] - 1.0)
    return case.grip * max(fade, 0.5) * load


@inline
def side_force(case: Any, limit: float, along: float, slip: float) -> Number:
    """Side force at a slip angle [rad], of the grip [N] that the force along the wheel [N] leaves. [N]"""
    room = sqrt(max(limit * limit - along * along, 0.0))
    x = slip / case.slip_scale
    return -room * x / sqrt(1.0 + x * x)


@inline
def slip_rate(case: Any, axle_side_speed: float, speed: float, slip: float) -> Number:
    """Rate of the relaxed slip angle; the half metre per second keeps it damped at standstill. [rad/s]"""
    return (axle_side_speed - (abs(speed) + 0.5) * slip) / case.relaxation

"""Vertical acceleration of the body above each wheel."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from dualduty.cells import derivative
from dualduty.contract import quantity
from dualduty.each_tick import each_tick, share
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY


@each_tick
@dataclass(frozen=True)
class CornerAcceleration:
    """Specific force turned upright, less g, plus the angular accelerations times the arms; up positive.

    In a banked corner the accelerometer's own axis shows 1.2 g and more though nothing moves up or down: only all three
    axes together, turned by the body's angles, say what is vertical.

    Without the forward or sideways channel, what a steady state would show there stands in; without a gyro, its angular
    acceleration is left out.

    Notes
    -----
    z_i'' = (f_z + roll f_y - pitch f_x) / sqrt(1 + roll^2 + pitch^2) - g + y_i roll'' - x_i pitch''; within 0.1 % of g at
    20 degrees against the full rotation. In flight it reads -g, as it should.
    """

    angular_hz: float = param(30.0, "Hz", 2.0, 200.0, "corner frequency of the lag in the angular accelerations")
    corner_x: float = param(0.0, "m", -5.0, 5.0, "corner ahead of the centre of gravity", said="mm", by_corner=True, from_car="arm")
    corner_y: float = param(0.0, "m", -2.0, 2.0, "corner left of the centre of gravity", said="mm", by_corner=True, from_car="side")

    gives = (quantity("corner_acceleration", "m/s²", "vertical acceleration of the body above each wheel, up positive"),)

    does_without = ("roll_rate", "pitch_rate", "specific_force_x", "specific_force_y")

    def prepared(self, dt: float) -> dict[str, Any]:
        """Share of the lag."""
        return {"lag": share(self.angular_hz, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Corner acceleration. [m/s²]"""
        roll, pitch = now.body_roll, now.body_pitch
        size = math.sqrt(1.0 + roll * roll + pitch * pitch)
        ahead = now.specific_force_x if now.specific_force_x_valid > 0.5 else -pitch * STANDARD_GRAVITY
        left = now.specific_force_y if now.specific_force_y_valid > 0.5 else now.lateral_acceleration + roll * STANDARD_GRAVITY
        up = (now.specific_force_z + roll * left - pitch * ahead) / size - STANDARD_GRAVITY
        rolling = derivative(memory.roll, now.net_roll_rate, self.lag, now.dt) * now.roll_rate_valid
        pitching = derivative(memory.pitch, now.net_pitch_rate, self.lag, now.dt) * now.pitch_rate_valid
        for corner in range(4):
            out.corner_acceleration[corner] = up + self.corner_y[corner] * rolling - self.corner_x[corner] * pitching

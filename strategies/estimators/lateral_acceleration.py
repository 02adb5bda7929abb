"""Lateral acceleration that belongs to a curve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import low_pass
from dualduty.contract import quantity
from dualduty.each_tick import each_tick, share
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class LateralAcceleration:
    """Yaw rate times speed, smoothed: a bank or a side slope, which an accelerometer takes for cornering, leaves it alone.

    While the yaw gyro is not believed, steer angle and speed stand in: v^2 steer / (wheelbase + understeer v^2).

    It misses the sideways slide itself (the rate of the side speed), which matters for some tenths of a second in a swerve,
    and is worth nothing while the car spins.
    """

    wheelbase: float = param(2.7, "m", 1.0, 5.0, "wheelbase", said="mm", from_car="wheelbase")
    understeer: float = param(0.002, "rad/(m/s²)", -0.02, 0.05, "steer angle that a lateral acceleration takes beyond the kinematic one")
    corner_hz: float = param(8.0, "Hz", 0.5, 50.0, "corner frequency of the smoothing")

    gives = (quantity("lateral_acceleration", "m/s²", "yaw rate times speed, to the left positive", corners=1, mirror=-1),)

    does_without = ("yaw_rate", "steer_angle")

    def prepared(self, dt: float) -> dict[str, Any]:
        """Share of the smoothing."""
        return {"smooth": share(self.corner_hz, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Lateral acceleration. [m/s²]"""
        speed = now.vehicle_speed
        turning = now.yaw_rate * speed
        if now.yaw_rate_valid < 0.5:
            turning = now.steer_angle_valid * speed * speed * now.steer_angle / max(self.wheelbase + self.understeer * speed * speed, 0.5)
        out.lateral_acceleration = low_pass(memory.smooth, turning, self.smooth)

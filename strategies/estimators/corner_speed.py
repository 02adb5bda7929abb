"""Vertical speed of the body above each wheel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import leak, leaky_integral
from dualduty.contract import quantity
from dualduty.each_tick import each_tick, share
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class CornerSpeed:
    """Vertical body speed at the corners: integral of the vertical acceleration that forgets twice, plus the rates times the arms.

    z_i' = z' + y_i roll' - x_i pitch' (small angles, ISO 8855). Acceleration comes upright from `CornerAcceleration`. What it
    still errs by, constant or slow (offset of the sensor, an angle that is off in a long banked corner), must not pass for
    speed: the integral forgets with `leak_hz`, and its own slow part is taken off again at the same frequency. So a constant error e
    gives a bump of at most e / (2 pi e leak_hz), the second e being 2.718, that dies away, where one leak would keep e / (2 pi leak_hz).

    The phase is early by 2 atan(leak_hz / f): 17 degrees at a body frequency of 1.3 Hz.
    """

    leak_hz: float = param(0.2, "Hz", 0.02, 2.0, "frequency below which the integral forgets")
    corner_x: float = param(0.0, "m", -5.0, 5.0, "corner ahead of the centre of gravity", said="mm", by_corner=True, from_car="arm")
    corner_y: float = param(0.0, "m", -2.0, 2.0, "corner left of the centre of gravity", said="mm", by_corner=True, from_car="side")

    gives = (
        quantity("corner_speed", "m/s", "vertical speed of the body above each wheel, up positive"),
        quantity("heave_speed", "m/s", "vertical speed of the body's centre of gravity, up positive", corners=1),
    )

    def prepared(self, dt: float) -> dict[str, Any]:
        """What the integral keeps and gains per tick, and the share of its slow part."""
        keep, gain = leak(self.leak_hz, dt)
        return {"keep": keep, "gain": gain, "slow": share(self.leak_hz, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Corner and heave speed. [m/s]"""
        front = 0.5 * (now.corner_acceleration[0] + now.corner_acceleration[1])
        rear = 0.5 * (now.corner_acceleration[2] + now.corner_acceleration[3])
        front_arm, rear_arm = 0.5 * (self.corner_x[0] + self.corner_x[1]), 0.5 * (self.corner_x[2] + self.corner_x[3])
        apart = front_arm - rear_arm
        heaving = (front * -rear_arm + rear * front_arm) / apart if apart > 0.1 else 0.5 * (front + rear)
        integral = leaky_integral(memory.integral, heaving, self.keep, self.gain)
        memory.past += self.slow * (integral - memory.past)
        heave_speed = integral - memory.past
        out.heave_speed = heave_speed
        for corner in range(4):
            turning = self.corner_y[corner] * now.net_roll_rate - self.corner_x[corner] * now.net_pitch_rate
            out.corner_speed[corner] = heave_speed + turning

"""Roll and pitch of the body against the horizon."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.cells import derivative, low_pass
from dualduty.contract import quantity
from dualduty.each_tick import each_tick, share
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY


@each_tick
@dataclass(frozen=True)
class BodyAttitude:
    """Body angles from gyros in the short run, from specific force less what driving takes of it in the long run.

    A complementary filter. Gyro rates are turned into rates of the angles (in a banked corner yaw rate times roll is a pitch
    rate of several deg/s) and integrated. Specific force says where up is once the accelerations of driving are known: yaw
    rate times speed to the left, the rate of the speed ahead. The difference corrects the angles at `corner_hz`, and slowly
    the offset of the gyros. There is no correction in the air, nor while the vertical part of the force, smoothed, is
    further than `believed` from g: then the angles are the integral of the rates alone.

    A gyro that is not believed is replaced by the rates from the travels (`BodyRates`), which see no bank, and specific force
    corrects faster, at `lost_hz`. The yaw gyro is replaced by what steering says. Without the forward or sideways force there is
    no correction.

    At the start, angles are the mean of what specific force has shown so far, until that mean is as long as the filter's own.

    Notes
    -----
    Small angles: with s = sqrt(1 + roll^2 + pitch^2) the force is (ahead - pitch up, left + roll up, up + pitch ahead - roll
    left) / s. At 20 degrees that is right within 0.1 % of g for the vertical part and within 1 degree for the angle seen.
    What it doesn't know: the rate of the side speed in a slide, and a speed that is wrong because all wheels slip.
    """

    corner_hz: float = param(0.06, "Hz", 0.005, 1.0, "frequency below which specific force counts, above which the gyros do")
    lost_hz: float = param(0.4, "Hz", 0.01, 5.0, "the same while a gyro is not believed")
    offset_time: float = param(40.0, "s", 2.0, 1000.0, "time over which an offset of a gyro is learnt")
    offset_limit: float = param(0.02, "rad/s", 0.0, 0.2, "largest offset of a gyro", said="deg/s")
    believed: float = param(2.5, "m/s²", 0.2, 20.0, "distance from g up to which the smoothed vertical force corrects", said="g")
    force_hz: float = param(1.0, "Hz", 0.1, 20.0, "corner frequency of that smoothing, and of the rate of the speed")

    gives = (
        quantity("body_roll", "rad", "roll of the body against the horizon, right side down positive", corners=1, mirror=-1),
        quantity("body_pitch", "rad", "pitch of the body against the horizon, nose down positive", corners=1),
    )
    does_without = ("roll_rate", "pitch_rate", "yaw_rate", "specific_force_x", "specific_force_y")

    def prepared(self, dt: float) -> dict[str, Any]:
        """Shares per tick."""
        correction = share(self.corner_hz, dt)
        return {
            "correction": correction,
            "learning": 2.0 * np.pi * self.corner_hz * -np.expm1(-dt / np.asarray(self.offset_time)),
            "without_gyro": share(self.lost_hz, dt),
            "force": share(self.force_hz, dt),
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Angles against the horizon. [rad]"""
        roll, pitch = memory.roll, memory.pitch
        roll_rate = now.roll_rate if now.roll_rate_valid > 0.5 else now.net_roll_rate + memory.roll_offset
        pitch_rate = now.pitch_rate if now.pitch_rate_valid > 0.5 else now.net_pitch_rate + memory.pitch_offset
        ahead = derivative(memory.gaining, now.vehicle_speed, self.force, now.dt)
        yaw_rate = now.yaw_rate if now.yaw_rate_valid > 0.5 else now.lateral_acceleration / max(now.vehicle_speed, 2.0)
        left = yaw_rate * now.vehicle_speed
        size = math.sqrt(1.0 + roll * roll + pitch * pitch)
        up = (now.specific_force_z + roll * now.specific_force_y - pitch * now.specific_force_x) / size
        seen = min(now.specific_force_x_valid, now.specific_force_y_valid)
        apart = abs(low_pass(memory.up, up, self.force) - STANDARD_GRAVITY)
        roll += now.dt * (roll_rate - memory.roll_offset + memory.pitch * yaw_rate)
        pitch += now.dt * (pitch_rate - memory.pitch_offset - memory.roll * yaw_rate)
        if apart < self.believed and max(now.airborne_likely, now.airborne) < seen - 0.5:
            memory.corrections += 1.0
            first = 1.0 / memory.corrections
            roll_miss = (now.specific_force_y * size - left) / STANDARD_GRAVITY - roll
            pitch_miss = (ahead - now.specific_force_x * size) / STANDARD_GRAVITY - pitch
            roll += max(self.correction if now.roll_rate_valid > 0.5 else self.without_gyro, first) * roll_miss
            pitch += max(self.correction if now.pitch_rate_valid > 0.5 else self.without_gyro, first) * pitch_miss
            memory.roll_offset = min(max(memory.roll_offset - self.learning * roll_miss, -self.offset_limit), self.offset_limit)
            memory.pitch_offset = min(max(memory.pitch_offset - self.learning * pitch_miss, -self.offset_limit), self.offset_limit)
        memory.roll = min(max(roll, -1.5), 1.5)
        memory.pitch = min(max(pitch, -1.5), 1.5)
        out.body_roll = memory.roll
        out.body_pitch = memory.pitch

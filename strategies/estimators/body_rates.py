"""Net roll and pitch rate of the body."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import bumpless, low_pass
from dualduty.contract import quantity
from dualduty.each_tick import each_tick, share
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class BodyRates:
    """Gyro rates, smoothed, with their slow drift taken off; from the travels while a gyro is not believed.

    Drift is what a rate shows on average over minutes: the difference between rate and drift moves it, no further than
    `drift_limit` counts, so that a corner or a flight is not learnt as drift. A gyro that is lost, and one that comes
    back, hands over without a step: the difference at that moment dies away with `hand_over_hz`.

    The rates from the travels are those of the body against its wheels, smoothed so that the wheels' own motion hardly counts:
    on a bank that rolls up under the car they differ from the gyro's by the ground's own rate, and in flight they are worth
    nothing.
    """

    corner_hz: float = param(25.0, "Hz", 1.0, 100.0, "corner frequency of the smoothing")
    drift_hz: float = param(0.02, "Hz", 0.001, 0.2, "frequency below which a rate counts as sensor drift")
    drift_limit: float = param(0.035, "rad/s", 0.001, 1.0, "difference between rate and drift beyond which it counts no more", said="deg/s")
    travel_hz: float = param(2.5, "Hz", 0.2, 50.0, "corner frequency of the smoothing of the rates from the travels")
    hand_over_hz: float = param(1.5, "Hz", 0.1, 20.0, "how fast the difference between gyro and travels dies away after a change")
    motion_ratio: float = param(0.6, "1", 0.2, 1.5, "shaft travel per wheel travel", by_corner=True, from_car="motion_ratio")
    half_track: float = param(0.75, "m", 0.3, 1.5, "half the track", said="mm", by_corner=True, from_car="half_track")
    wheelbase: float = param(2.7, "m", 1.0, 5.0, "wheelbase", said="mm", from_car="wheelbase")

    gives = (
        quantity("net_roll_rate", "rad/s", "roll rate without drift, right side down positive", corners=1, mirror=-1),
        quantity("net_pitch_rate", "rad/s", "pitch rate without drift, nose down positive", corners=1),
    )
    does_without = ("roll_rate", "pitch_rate", "shaft_travel")

    def prepared(self, dt: float) -> dict[str, Any]:
        """Shares of smoothing, drift and handing over."""
        return {
            "smooth": share(self.corner_hz, dt),
            "drift": share(self.drift_hz, dt),
            "slow": share(self.travel_hz, dt),
            "handed": share(self.hand_over_hz, dt),
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Net rates. [rad/s]"""
        front_left, front_right = now.shaft_speed[0] / self.motion_ratio[0], now.shaft_speed[1] / self.motion_ratio[1]
        rear_left, rear_right = now.shaft_speed[2] / self.motion_ratio[2], now.shaft_speed[3] / self.motion_ratio[3]
        front = (front_right - front_left) / (self.half_track[0] + self.half_track[1])
        rear = (rear_right - rear_left) / (self.half_track[2] + self.half_track[3])
        rolling = low_pass(memory.rolling, 0.5 * (front + rear), self.slow)
        ends = 0.5 * ((front_left + front_right) - (rear_left + rear_right))
        pitching = low_pass(memory.pitching, ends / self.wheelbase, self.slow)
        if now.roll_rate_valid > 0.5:
            seen = now.roll_rate - memory.roll_drift
            memory.roll_drift += self.drift * min(max(seen, -self.drift_limit), self.drift_limit)
        else:
            seen = rolling
        roll_rate = bumpless(memory.handing_roll, seen, 1.0 - now.roll_rate_valid, self.handed)
        out.net_roll_rate = low_pass(memory.roll, roll_rate, self.smooth)
        if now.pitch_rate_valid > 0.5:
            seen = now.pitch_rate - memory.pitch_drift
            memory.pitch_drift += self.drift * min(max(seen, -self.drift_limit), self.drift_limit)
        else:
            seen = pitching
        pitch_rate = bumpless(memory.handing_pitch, seen, 1.0 - now.pitch_rate_valid, self.handed)
        out.net_pitch_rate = low_pass(memory.pitch, pitch_rate, self.smooth)

"""Forward speed from the four wheels, held where they can't be trusted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import hold, keep_while, low_pass, trigger
from dualduty.contract import quantity
from dualduty.each_tick import each_tick, share, ticks
from dualduty.kernels import inline
from dualduty.parameters import param


@inline
def _or_else(believed: float, value: float, other: float) -> float:
    """`value` where it is believed."""
    return value if believed > 0.5 else other


@each_tick
@dataclass(frozen=True)
class VehicleSpeed:
    """A middle wheel speed, rate-limited and smoothed; held in the air, where driven wheels run away, and until they agree again.

    What turning adds to the outer wheels and takes from the inner ones is taken off first. Of the two middle wheels the
    faster counts while braking, when wheels slip backward, the slower otherwise, when they may spin. The rate limits keep out
    what no vehicle on loose ground can do. In the air the speed stands still. After landing it goes on standing until the
    middle wheel has stayed within `agrees` of it for `agrees_for`, or for `distrusted` at most: wheels that raced, or that the
    brake stopped, need some time on the ground before they tell a speed.

    A wheel whose sensor is not believed counts as the other one of its axle does; with both lost the other axle decides, with
    all four lost the speed stays.

    `speed_moved_in_air` says what a controller makes of a flight: how far the speed has moved since lift-off, kept for a
    second after it. With `hold_in_air` at 0 it follows racing wheels as far as `gain_limit` lets it.

    Not for a vehicle that flies longer than a second or two: what drag takes off meanwhile is not seen, and after `longest` the
    wheels count again.
    """

    gain_limit: float = param(6.0, "m/s²", 1.0, 20.0, "largest believable gain of speed", said="g")
    loss_limit: float = param(9.0, "m/s²", 1.0, 20.0, "largest believable loss of speed", said="g")
    brake_on: float = param(0.05, "1", 0.0, 1.0, "brake demand from which wheels are expected to slip backward", said="pct")
    corner_hz: float = param(3.0, "Hz", 0.2, 20.0, "corner frequency of the smoothing")
    hold_in_air: float = param(1.0, "1", 0.0, 1.0, "0: go on following the wheels in the air; 1: hold the speed there")
    longest: float = param(2.0, "s", 0.1, 10.0, "longest flight that is believed: a detector that sticks must not hold the speed for good")
    agrees: float = param(1.0, "m/s", 0.1, 10.0, "difference within which wheels are believed again after a flight", said="km/h")
    agrees_for: float = param(0.06, "s", 0.0, 1.0, "how long they must agree: on their way down, racing wheels pass the speed", said="ms")
    distrusted: float = param(0.4, "s", 0.0, 2.0, "longest time for which they are not", said="ms")
    half_track: float = param(0.75, "m", 0.3, 1.5, "half the track", said="mm", by_corner=True, from_car="half_track")
    kept: float = param(1.0, "s", 0.0, 5.0, "how long after a flight speed_moved_in_air is kept", said="ms")

    gives = (
        quantity("vehicle_speed", "m/s", "forward speed", corners=1),
        quantity("speed_moved_in_air", "m/s", "how far vehicle_speed has moved since lift-off, kept for a while after landing", corners=1),
    )

    does_without = ("yaw_rate", "wheel_speed", "brake")

    def prepared(self, dt: float) -> dict[str, Any]:
        """Limits per tick, share of the smoothing, times in ticks."""
        return {
            "gain": self.gain_limit * dt,
            "loss": self.loss_limit * dt,
            "smooth": share(self.corner_hz, dt),
            "distrust_ticks": ticks(self.distrusted, dt),
            "longest_ticks": ticks(self.longest, dt),
            "agree_ticks": ticks(self.agrees_for, dt),
            "kept_ticks": ticks(self.kept, dt),
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Vehicle speed, and how far it moved in the air. [m/s]"""
        turning = now.yaw_rate * now.yaw_rate_valid
        for corner in range(4):
            side = self.half_track[corner] if corner % 2 == 0 else -self.half_track[corner]
            memory.wheel[corner] = now.wheel_speed[corner] + side * turning
        for corner in range(4):
            mate, across, diagonal = corner + 1 - 2 * (corner % 2), (corner + 2) % 4, 3 - corner
            other = _or_else(now.wheel_speed_valid[diagonal], memory.wheel[diagonal], memory.speed)
            other = _or_else(now.wheel_speed_valid[across], memory.wheel[across], other)
            other = _or_else(now.wheel_speed_valid[mate], memory.wheel[mate], other)
            memory.used[corner] = _or_else(now.wheel_speed_valid[corner], memory.wheel[corner], other)
        one = max(min(memory.used[0], memory.used[1]), min(memory.used[2], memory.used[3]))
        other = min(max(memory.used[0], memory.used[1]), max(memory.used[2], memory.used[3]))
        middle = max(one, other) if now.brake * now.brake_valid > self.brake_on else min(one, other)
        if memory.started < 0.5:
            memory.started = 1.0
            memory.speed = middle
        aloft = max(now.airborne_likely, now.airborne)
        memory.flight = memory.flight + 1.0 if aloft > 0.5 else 0.0
        held = aloft if self.hold_in_air >= 0.5 and memory.flight <= self.longest_ticks else 0.0
        of_late = hold(memory.of_late, held, self.distrust_ticks)
        agreed = trigger(memory.agreed, self.agrees - abs(middle - memory.speed), 0.0, 0.0, self.agree_ticks, 0.0, 0.0)
        memory.distrust = max(held, memory.distrust * of_late * (1.0 - agreed))
        if memory.distrust < 0.5:
            memory.speed = min(max(middle, memory.speed - self.loss), memory.speed + self.gain)
        speed = low_pass(memory.smooth, memory.speed, self.smooth)
        lift_off = keep_while(memory.lift_off, memory.last, aloft)
        moved = keep_while(memory.moved, speed - lift_off, 1.0 - aloft)
        memory.last = speed
        out.vehicle_speed = speed
        out.speed_moved_in_air = moved * hold(memory.kept, aloft, self.kept_ticks)

"""End-stop approach: time until a damper reaches its bump or droop stop, foretold from travel, its speed and the change of that."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

from dualduty.cells import derivative, share, ticks, trigger
from dualduty.contract import quantity, state
from dualduty.each_tick import each_tick
from dualduty.kernels import inline
from dualduty.parameters import param

NEVER: Final = 1.0  # s; what lies further ahead is not in sight


@each_tick
@dataclass(frozen=True)
class EndStopApproach:
    """`bump_approach` and `droop_approach` when a stop is less than `ahead` away in time, and would be met faster than `least_speed`.

    The time is that of uniformly changing speed: gap = v t + a t^2 / 2, with the share `trust` of the acceleration where it slows the
    shaft down, since damper and spring go on doing so, and none where it speeds it up, since they won't. A shaft that stops short
    never arrives: the time then is 1 s, which stands for "not in sight". At and beyond the stop it is 0.

    By corner: where a travel is not believed nothing approaches. Not for a stop that is met softly on purpose.

    Notes
    -----
    Valve lag, bus and filters take 20 to 40 ms: `ahead` less than that is of no use to a damper. Defaults: measured on the bench's plant.
    """

    smooth_hz: float = param(20.0, "Hz", 2.0, 100.0, "corner frequency of the lag in the acceleration of the shaft")
    trust: float = param(0.5, "1", 0.0, 1.0, "share of a slowing acceleration that counts", said="pct")
    ahead: float = param(0.04, "s", 0.005, 0.5, "time before the stop at which the state opens", said="ms")
    least_speed: float = param(0.4, "m/s", 0.0, 5.0, "speed at the stop below which it is no matter")
    likely_after: float = param(0.002, "s", 0.0, 0.1, "how long both must be so", said="ms")
    stays: float = param(0.02, "s", 0.0, 1.0, "shortest time open", said="ms")
    bump_contact: float = param(
        0.22, "m", 0.01, 1.0, "shaft travel at which the bump stop is touched", said="mm", by_corner=True, from_car="bump_contact"
    )
    droop_contact: float = param(0.0, "m", -0.05, 0.3, "shaft travel at which the droop stop is touched", said="mm", by_corner=True)

    gives = (
        state("bump_approach", "this damper is about to reach its bump stop", corners=4),
        state("droop_approach", "this damper is about to reach its droop stop", corners=4),
        quantity("time_to_bump", "s", "time until the bump stop is touched, 1 s where it is not in sight"),
        quantity("time_to_droop", "s", "time until the droop stop is touched, 1 s where it is not in sight"),
    )

    def prepared(self, dt: float) -> dict[str, Any]:
        """Share of the lag; times in ticks."""
        return {"lag": share(self.smooth_hz, dt), "on_ticks": ticks(self.likely_after, dt), "dwell_ticks": ticks(self.stays, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Times and states of each corner."""
        for corner in range(4):
            speed = now.shaft_speed[corner]
            change = self.trust * derivative(memory.change[corner], speed, self.lag, now.dt)
            believed = now.shaft_travel_valid[corner] > 0.5
            gap = self.bump_contact[corner] - now.shaft_travel[corner]
            until = time_over(gap, speed, change) if believed else NEVER
            out.time_to_bump[corner] = until
            near = self.ahead - until if speed_at(gap, speed, change) >= self.least_speed else -NEVER
            out.bump_approach[corner] = trigger(memory.bump[corner], near, 0.0, 0.0, self.on_ticks, 0.0, self.dwell_ticks)
            out.bump_approach_strength[corner] = min(max(1.0 - until / self.ahead, 0.0), 1.0)

            gap = now.shaft_travel[corner] - self.droop_contact[corner]
            until = time_over(gap, -speed, -change) if believed else NEVER
            out.time_to_droop[corner] = until
            near = self.ahead - until if speed_at(gap, -speed, -change) >= self.least_speed else -NEVER
            out.droop_approach[corner] = trigger(memory.droop[corner], near, 0.0, 0.0, self.on_ticks, 0.0, self.dwell_ticks)
            out.droop_approach_strength[corner] = min(max(1.0 - until / self.ahead, 0.0), 1.0)


@inline
def time_over(gap: float, speed: float, change: float) -> float:
    """Time to cover `gap` at a speed that changes by `change` where that is slower; NEVER where it isn't covered sooner. [s]"""
    left = speed * speed + 2.0 * min(change, 0.0) * gap  # of the square of the speed, at the end of the gap
    time = NEVER
    if gap <= 0.0:
        time = 0.0
    elif speed > 0.0 and left > 0.0:
        time = min(2.0 * gap / (speed + math.sqrt(left)), NEVER)
    return float(time)


@inline
def speed_at(gap: float, speed: float, change: float) -> float:
    """Speed at the end of `gap`; at and beyond it the speed now. [m/s]"""
    left = speed * speed + 2.0 * min(change, 0.0) * max(gap, 0.0)
    return float(math.sqrt(left)) if speed > 0.0 and left > 0.0 else 0.0

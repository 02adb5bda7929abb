"""End-stop approach: time until a damper reaches its bump or droop stop, foretold from travel, its speed and the change of that."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from dualduty.cells import hold, share, ticks
from dualduty.contract import quantity, state
from dualduty.each_tick import each_tick
from dualduty.parameters import param

NEVER: Final = 0.3  # s; what lies further ahead is not in sight


@each_tick
@dataclass(frozen=True)
class EndStopApproach:
    """`bump_approach` and `droop_approach` when a stop is less than `ahead` away in time, and would be met faster than `least_speed`.

    The time is that of uniformly changing speed: gap = v t + a t^2 / 2, with the share `trust` of the acceleration where it slows the
    shaft down, since damper and spring go on doing so, and none where it speeds it up, since they won't. A shaft that stops short
    never arrives: the time then is 0.3 s, which stands for "not in sight". At and beyond the stop it is 0.

    By corner: where a travel is not believed nothing approaches. Not for a stop that is met softly on purpose.

    Notes
    -----
    Valve lag, bus and filters take 20 to 40 ms: `ahead` less than that is of no use to a damper. Defaults: measured on the bench's plant.
    """

    smooth_hz: float = param(20.0, "Hz", 2.0, 100.0, "corner frequency of the lag in the acceleration of the shaft")
    trust: float = param(0.5, "1", 0.0, 1.0, "share of a slowing acceleration that counts", said="pct")
    ahead: float = param(0.04, "s", 0.005, 0.25, "time before the stop at which the state opens", said="ms")
    least_speed: float = param(0.4, "m/s", 0.0, 5.0, "speed at the stop below which it is no matter")
    stays: float = param(0.02, "s", 0.0, 1.0, "how long it stays after the last tick at which both were so", said="ms")
    bump_contact: float = param(
        0.22, "m", 0.01, 1.0, "shaft travel at which the bump stop is touched", said="mm", by_corner=True, from_car="bump_contact"
    )
    droop_contact: float = param(0.0, "m", -0.05, 0.3, "shaft travel at which the droop stop is touched", said="mm", by_corner=True)

    gives = (
        state("bump_approach", "this damper is about to reach its bump stop", corners=4),
        state("droop_approach", "this damper is about to reach its droop stop", corners=4),
        quantity("time_to_bump", "s", "time until the bump stop is touched, 0.3 s where it is not in sight"),
        quantity("time_to_droop", "s", "time until the droop stop is touched, 0.3 s where it is not in sight"),
    )

    def prepared(self, dt: float) -> dict[str, Any]:
        """Share of the lag; what of the acceleration counts; times in ticks."""
        lag = share(self.smooth_hz, dt)
        return {"lag": lag, "counts": self.trust * lag / dt, "stay_ticks": ticks(self.stays, dt), "per_ahead": 1.0 / np.asarray(self.ahead)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Times and states of each corner."""
        for corner in range(4):
            speed = now.shaft_speed[corner]
            miss = speed - memory.lagged[corner] if memory.started[corner] > 0.5 else 0.0
            memory.lagged[corner] = memory.lagged[corner] + self.lag * miss if memory.started[corner] > 0.5 else speed
            memory.started[corner] = 1.0
            to_bump, to_droop = self.bump_contact[corner] - now.shaft_travel[corner], now.shaft_travel[corner] - self.droop_contact[corner]
            inward = speed > 0.0
            gap = to_bump if inward else to_droop
            slowing = max(-self.counts * miss if inward else self.counts * miss, 0.0)
            time, met = NEVER, 0.0
            believed = now.shaft_travel_valid[corner] > 0.5
            if believed and gap < abs(speed) * NEVER:
                left = speed * speed - 2.0 * slowing * max(gap, 0.0)  # of the square of the speed, at the stop
                met = math.sqrt(max(left, 0.0))
                time = min(2.0 * max(gap, 0.0) / (abs(speed) + met), NEVER) if left > 0.0 else NEVER
            out.time_to_bump[corner] = time if inward else 0.0 if to_bump <= 0.0 and believed else NEVER
            out.time_to_droop[corner] = 0.0 if to_droop <= 0.0 and believed else NEVER if inward else time
            near = 1.0 if time <= self.ahead and met >= self.least_speed else 0.0
            out.bump_approach[corner] = hold(memory.bump[corner], near if inward else 0.0, self.stay_ticks)
            out.droop_approach[corner] = hold(memory.droop[corner], 0.0 if inward else near, self.stay_ticks)
            strength = max(1.0 - time * self.per_ahead, 0.0)
            out.bump_approach_strength[corner] = strength if inward else 0.0
            out.droop_approach_strength[corner] = 0.0 if inward else strength

"""Walking pace: slow enough for crawling over rocks, where comfort at speed no longer is the aim."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import trigger
from dualduty.contract import state
from dualduty.each_tick import each_tick, ticks
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class WalkingPace:
    """At walking pace or slower, standing included: a layer for moving only adds `unless = ["standstill"]`.

    The strength grows from 0 at the switch-off speed to 1 at the switch-on speed.
    """

    on_speed: float = param(2.0, "m/s", 0.3, 10.0, "speed below which it opens", said="km/h")
    off_speed: float = param(2.8, "m/s", 0.4, 15.0, "speed from which it closes", said="km/h")
    on_delay: float = param(0.1, "s", 0.0, 5.0, "how long it must be that slow", said="ms")
    off_delay: float = param(0.1, "s", 0.0, 5.0, "how long it must be faster to close", said="ms")

    ordered = (("on_speed", "off_speed"),)
    gives = (state("walking_pace", "the vehicle moves no faster than one walks"),)

    def prepared(self, dt: float) -> dict[str, Any]:
        """Whole ticks."""
        return {"on_ticks": ticks(self.on_delay, dt), "off_ticks": ticks(self.off_delay, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """One tick: slow enough, long enough."""
        speed = abs(now.vehicle_speed)
        out.walking_pace = trigger(memory.slow, -speed, -self.on_speed, -self.off_speed, self.on_ticks, self.off_ticks, 0.0)
        out.walking_pace_strength = min(max((self.off_speed - speed) / max(self.off_speed - self.on_speed, 0.01), 0.0), 1.0)

"""Standstill: the vehicle does not move."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import trigger
from dualduty.contract import state
from dualduty.each_tick import each_tick, ticks
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class Standstill:
    """Speed next to nothing for a while; locked wheels on loose ground are none, since the speed can't fall that fast.

    For what must not act on a parked car: levels learnt, seats being taken, the valves' coils kept cool.

    Notes
    -----
    Wheel speed sensors that count teeth say nothing below 0.3 to 1 m/s (common practice): raise `on_speed` above what yours can say.
    """

    on_speed: float = param(0.25, "m/s", 0.02, 2.0, "speed below which it opens", said="km/h")
    off_speed: float = param(0.5, "m/s", 0.03, 3.0, "speed from which it closes", said="km/h")
    on_delay: float = param(0.2, "s", 0.0, 5.0, "how long it must be that slow", said="ms")
    off_delay: float = param(0.02, "s", 0.0, 1.0, "how long it must be faster to close", said="ms")

    ordered = (("on_speed", "off_speed"),)
    gives = (state("standstill", "the vehicle does not move"),)

    def prepared(self, dt: float) -> dict[str, Any]:
        """Whole ticks."""
        return {"on_ticks": ticks(self.on_delay, dt), "off_ticks": ticks(self.off_delay, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """One tick: slow enough, long enough."""
        slow = -abs(now.vehicle_speed)
        out.standstill = trigger(memory.still, slow, -self.on_speed, -self.off_speed, self.on_ticks, self.off_ticks, 0.0)

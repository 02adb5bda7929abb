"""Roll and pitch of the body against its wheels, from the four travels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import bumpless
from dualduty.contract import quantity
from dualduty.each_tick import each_tick, share
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class SuspensionAttitude:
    """Suspension roll and pitch: the part of body attitude that springs and dampers make; a bank or a slope has none.

    Wheel travel is shaft travel over motion ratio, counted from ride height. A travel that is not believed is worked out from
    the other three, as if both axles rolled alike; the hand-over has no step, its difference dies away with `hand_over_hz`.
    With two or more lost, a lost one counts as the other of its axle, else as that of its side: roll or pitch then tends to
    nothing, instead of standing where the last believed values left it.
    """

    motion_ratio: float = param(0.6, "1", 0.2, 1.5, "shaft travel per wheel travel", by_corner=True, from_car="motion_ratio")
    static_travel: float = param(0.1, "m", 0.0, 1.0, "shaft travel at ride height", said="mm", by_corner=True, from_car="static_travel")
    half_track: float = param(0.75, "m", 0.3, 1.5, "half the track", said="mm", by_corner=True, from_car="half_track")
    wheelbase: float = param(2.7, "m", 1.0, 5.0, "wheelbase", said="mm", from_car="wheelbase")
    hand_over_hz: float = param(1.5, "Hz", 0.1, 20.0, "how fast the difference dies away after a travel is lost or comes back")

    gives = (
        quantity("suspension_roll", "rad", "roll of the body against its wheels, right side down positive", corners=1, mirror=-1),
        quantity("suspension_pitch", "rad", "pitch of the body against its wheels, nose down positive", corners=1),
    )
    does_without = ("shaft_travel",)

    def prepared(self, dt: float) -> dict[str, Any]:
        """Share of handing over."""
        return {"handed": share(self.hand_over_hz, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Suspension roll and pitch. [rad]"""
        for corner in range(4):
            if now.shaft_travel_valid[corner] > 0.5:
                memory.seen[corner] = (now.shaft_travel[corner] - self.static_travel[corner]) / self.motion_ratio[corner]
        good = (now.shaft_travel_valid[0] + now.shaft_travel_valid[1]) + (now.shaft_travel_valid[2] + now.shaft_travel_valid[3])
        for corner in range(4):
            mate, across = corner + 1 - 2 * (corner % 2), (corner + 2) % 4
            across_mate = across + 1 - 2 * (across % 2)
            if now.shaft_travel_valid[corner] < 0.5 and good < 2.5:
                nearest = memory.seen[3 - corner] if now.shaft_travel_valid[3 - corner] > 0.5 else 0.0
                nearest = memory.seen[across] if now.shaft_travel_valid[across] > 0.5 else nearest
                memory.seen[corner] = memory.seen[mate] if now.shaft_travel_valid[mate] > 0.5 else nearest
            elif now.shaft_travel_valid[corner] < 0.5:
                wider = (self.half_track[corner] + self.half_track[mate]) / (self.half_track[across] + self.half_track[across_mate])
                memory.seen[corner] = memory.seen[mate] + wider * (memory.seen[across] - memory.seen[across_mate])
            lost = 1.0 - now.shaft_travel_valid[corner]
            memory.sunk[corner] = bumpless(memory.handing[corner], memory.seen[corner], lost, self.handed)
        front = (memory.sunk[1] - memory.sunk[0]) / (self.half_track[0] + self.half_track[1])
        rear = (memory.sunk[3] - memory.sunk[2]) / (self.half_track[2] + self.half_track[3])
        out.suspension_roll = 0.5 * (front + rear)
        out.suspension_pitch = 0.5 * ((memory.sunk[0] + memory.sunk[1]) - (memory.sunk[2] + memory.sunk[3])) / self.wheelbase

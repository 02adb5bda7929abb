"""Roll and pitch of the body against its wheels, from the four travels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dualduty.contract import Array, Chunk, Memory, quantity
from dualduty.parameters import param


@dataclass(frozen=True)
class SuspensionAttitude:
    """Suspension roll and pitch: the part of body attitude that springs and dampers make; a bank or a slope has none.

    Wheel travel is shaft travel over motion ratio, counted from ride height.
    """

    motion_ratio: float = param(0.6, "1", 0.2, 1.5, "shaft travel per wheel travel", by_corner=True, from_car="motion_ratio")
    static_travel: float = param(0.1, "m", 0.0, 1.0, "shaft travel at ride height", said="mm", by_corner=True, from_car="static_travel")
    half_track: float = param(0.75, "m", 0.3, 1.5, "half the track", said="mm", by_corner=True, from_car="half_track")
    wheelbase: float = param(2.7, "m", 1.0, 5.0, "wheelbase", said="mm", from_car="wheelbase")

    gives = (
        quantity("suspension_roll", "rad", "roll of the body against its wheels, right side down positive", corners=1, mirror=-1),
        quantity("suspension_pitch", "rad", "pitch of the body against its wheels, nose down positive", corners=1),
    )

    def run(self, now: Chunk, memory: Memory) -> dict[str, Array]:
        """Suspension roll and pitch (1, time, case). [rad]"""
        sunk = (now.shaft_travel - self.static_travel) / self.motion_ratio
        half = np.broadcast_to(np.asarray(self.half_track), (4, 1, sunk.shape[2]))
        front = (sunk[1:2] - sunk[0:1]) / (half[0:1] + half[1:2])
        rear = (sunk[3:4] - sunk[2:3]) / (half[2:3] + half[3:4])
        ends = ((sunk[0:1] + sunk[1:2]) - (sunk[2:3] + sunk[3:4])) * 0.5
        return {"suspension_roll": 0.5 * (front + rear), "suspension_pitch": ends / self.wheelbase}

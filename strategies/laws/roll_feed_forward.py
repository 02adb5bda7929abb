"""Roll feed-forward: stand ready for the roll that a turn is about to bring, before the body rolls."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.cells import low_pass
from dualduty.each_tick import each_tick, share
from dualduty.kernels import inline
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY


@each_tick
@dataclass(frozen=True)
class RollFeedForward:
    """Force of outer compression and inner rebound for the part of the roll moment that the springs don't carry yet.

    Lateral acceleration is yaw rate times speed; the steering may speak before it, by `steer_share`, while both turn the
    same way. Use with `add`, newtons on top of what the base gives, below RollHold and `unless` airborne; no state need open it, since
    it fades by itself. With `raise` it is silent where the base is firm enough: 20 % duty may already give those newtons.

    Not where the wheels slide for long: steering then says little of the turn (against the yaw rate it is not believed at
    all, which leaves out the first moment of a slalom's change of side too). Not instead of RollHold: in a steady turn it asks nothing.

    Notes
    -----
    Moment = sprung mass x arm x lateral acceleration; half of it at each axle is a couple of two wheel forces over the
    track, so F_shaft = held m h (a - a_carried) / (2 track motion_ratio), a_carried being `a` through a first-order lag at
    `springs_hz`. On the way out of the turn its sign turns over, and the sides that resist the swing back are asked.
    a_steer = v² steer / (wheelbase + understeer v²): steady turn of the single-track model (textbook formula, from memory).
    """

    held: float = param(0.5, "1", 0.0, 1.5, "share of the moment the dampers are to carry while it builds up", said="pct", by_corner=True)
    steer_share: float = param(0.5, "1", 0.0, 1.0, "how far the steering leads the yaw rate", said="pct")
    believed_steer: float = param(
        0.6 * STANDARD_GRAVITY, "m/s²", 0.0, 15.0, "lateral acceleration the ground gives at most; steering for more is cut", said="g"
    )
    doubt: float = param(0.15 * STANDARD_GRAVITY, "m/s²", 0.1, 5.0, "turn against the steering at which it is no longer believed", said="g")
    understeer: float = param(0.002, "rad/(m/s²)", 0.0, 0.05, "steer angle added per lateral acceleration", said="deg/g")
    roll_arm: float = param(0.45, "m", 0.0, 1.5, "height of the sprung mass over the roll axis", said="mm")
    springs_hz: float = param(0.8, "Hz", 0.05, 5.0, "frequency below which springs and bars carry the moment by themselves")
    sprung_mass: float = param(800.0, "kg", 50.0, 10000.0, "sprung mass", from_car="sprung_mass")
    wheelbase: float = param(2.4, "m", 1.0, 5.0, "wheelbase", said="mm", from_car="wheelbase")
    half_track: float = param(0.75, "m", 0.3, 1.5, "half the track", said="mm", by_corner=True, from_car="half_track")
    motion_ratio: float = param(0.6, "1", 0.2, 1.5, "shaft travel per wheel travel", by_corner=True, from_car="motion_ratio")

    returns = "Force"

    def prepared(self, dt: float) -> dict[str, Any]:
        """Shaft force per lateral acceleration, and the springs' share per tick."""
        force = np.multiply(self.sprung_mass, self.roll_arm) / (4.0 * np.multiply(self.half_track, self.motion_ratio))
        return {"mass": np.multiply(self.held, force), "carries": share(self.springs_hz, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Force of both sides. [N]"""
        square = now.vehicle_speed * now.vehicle_speed
        steered = square * now.steer_angle / (self.wheelbase + self.understeer * square)
        steered = min(max(steered, -self.believed_steer), self.believed_steer)
        turn = now.lateral_acceleration
        lead = lead_of(max(steered, 0.0), turn, self.doubt) - lead_of(max(-steered, 0.0), -turn, self.doubt)
        ahead = turn + self.steer_share * lead
        builds = ahead - low_pass(memory.carried, ahead, self.carries)
        for corner in range(4):
            force = (2.0 * (corner % 2) - 1.0) * builds * self.mass[corner]
            out.compression[corner] = max(force, 0.0)
            out.rebound[corner] = max(-force, 0.0)


@inline
def lead_of(steered: float, turn: float, doubt: float) -> float:
    """How far a steering to one side, 0 or more, is ahead of the turn to that side; 0 where the turn goes well the other way."""
    return max(steered - max(turn, 0.0), 0.0) * min(max(1.0 + turn / doubt, 0.0), 1.0)

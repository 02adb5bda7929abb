"""Pitch feed-forward: stand ready for dive or squat as the pedals ask for it, before the body pitches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.cells import low_pass
from dualduty.each_tick import each_tick, share
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY


@each_tick
@dataclass(frozen=True)
class PitchFeedForward:
    """Force against the part of the pitch moment of brake and throttle that the springs don't carry yet.

    Brake: front compression and rear rebound; throttle: rear compression and front rebound; when a pedal is let go, the
    sides that resist the swing back. Use with `add`, newtons on top of what the base gives, below PitchHold and `unless`
    airborne; no state need open it. The brake counts against the motion and not at all at standstill, where pressing it
    pitches nothing.

    Not where wheels lock or spin for long: the pedal then asks for more than the ground gives (say so in the two full values).
    Not instead of PitchHold: under steady braking it asks nothing.

    Notes
    -----
    Moment = sprung mass x arm x acceleration, a couple of axle forces over the wheelbase, half of each at either wheel:
    F_shaft = held m h (a - a_carried) / (2 wheelbase motion_ratio), a_carried being `a` through a first-order lag at
    `springs_hz`. Anti-dive and anti-squat links carry their share without a damper: keep `held` below 1 minus that.
    """

    held: float = param(0.5, "1", 0.0, 1.5, "share of the moment the dampers are to carry while it builds up", said="pct", by_corner=True)
    full_brake: float = param(0.7 * STANDARD_GRAVITY, "m/s²", 0.0, 15.0, "deceleration at full brake", said="g")
    full_throttle: float = param(0.4 * STANDARD_GRAVITY, "m/s²", 0.0, 15.0, "acceleration at full throttle", said="g")
    rolling: float = param(1.0, "m/s", 0.1, 5.0, "speed from which the brake counts in full", said="km/h")
    pitch_arm: float = param(0.45, "m", 0.0, 1.5, "height of the sprung mass over the pitch axis", said="mm")
    springs_hz: float = param(0.8, "Hz", 0.05, 5.0, "frequency below which springs carry the moment by themselves")
    sprung_mass: float = param(800.0, "kg", 50.0, 10000.0, "sprung mass", from_car="sprung_mass")
    wheelbase: float = param(2.4, "m", 1.0, 5.0, "wheelbase", said="mm", from_car="wheelbase")
    motion_ratio: float = param(0.6, "1", 0.2, 1.5, "shaft travel per wheel travel", by_corner=True, from_car="motion_ratio")

    returns = "Force"

    def prepared(self, dt: float) -> dict[str, Any]:
        """Shaft force per acceleration, and the springs' share per tick."""
        force = np.multiply(self.sprung_mass, self.pitch_arm) / (2.0 * np.multiply(self.wheelbase, self.motion_ratio))
        return {"mass": np.multiply(self.held, force), "carries": share(self.springs_hz, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Force of both sides. [N]"""
        rolls = min(max(now.vehicle_speed / self.rolling, -1.0), 1.0)
        drives = -1.0 if rolls <= -1.0 else 1.0
        slowing = max(now.brake, 0.0) * self.full_brake * rolls - max(now.throttle, 0.0) * self.full_throttle * drives
        builds = slowing - low_pass(memory.carried, slowing, self.carries)
        for corner in range(4):
            force = (builds if corner < 2 else -builds) * self.mass[corner]
            out.compression[corner] = max(force, 0.0)
            out.rebound[corner] = max(-force, 0.0)

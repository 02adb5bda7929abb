"""Landing override: firm compression against the blow, then rebound so that the vehicle doesn't kick back, then let go."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.each_tick import each_tick
from dualduty.lookup import Curve
from dualduty.parameters import Axis, curve, param


@each_tick
@dataclass(frozen=True)
class LandingOverride:
    """Three stages, by corner: firm compression from touchdown, firm rebound once the shaft comes back, then compression let go.

    Each corner's time starts when its own shaft has left free hang: a rear axle that lands later settles later; a corner
    that flies again starts over, and one whose travel is lost counts from the moment the vehicle lands. Use with `set`, when
    landing. Stages and severity stay as they are after the state closes, so that the demand stands while the layer fades out.

    Not for bumps without a flight (that is what EndStop is for). Not with full firm compression for small drops: it is not
    the softest landing until the drop is large, so try 50 to 75 % and let `follow_severity` take some back. Not with a late
    settling stage at speed: over whoops the next face comes before the shaft is back (hence the curve), and firm rebound packs.

    Notes
    -----
    compression = compression x (1 - follow_severity (1 - severity)), the largest severity of this landing; after `firm_for` it
    falls to `settled_compression` within `release`. rebound = touchdown_rebound, moving to settling_rebound within `blend`
    after `settling_after`, read at the speed of touchdown. On a nonlinear corner the shaft turns 110 to 270 ms after
    touchdown, later from smaller drops: rebound stands firm before, compression goes after (computed; on a vehicle, calibrate).
    """

    compression: float = param(0.75, "1", 0.0, 1.0, "compression duty during a severe landing", said="pct", by_corner=True)
    follow_severity: float = param(0.3, "1", 0.0, 1.0, "share of compression taken back where the landing is not severe", said="pct")
    firm_for: float = param(0.3, "s", 0.0, 2.0, "time from touchdown until compression is let go", said="ms")
    release: float = param(0.15, "s", 0.0, 2.0, "time in which compression then falls", said="ms")
    settled_compression: float = param(0.35, "1", 0.0, 1.0, "compression duty afterwards, where less", said="pct", by_corner=True)
    touchdown_rebound: float = param(0.4, "1", 0.0, 1.0, "rebound duty at touchdown", said="pct", by_corner=True)
    settling_rebound: float = param(0.7, "1", 0.0, 1.0, "rebound duty once the shafts come back", said="pct", by_corner=True)
    settling_after: Curve = curve(
        Axis("vehicle_speed", "m/s", "km/h"), (0.0, 50 / 3.6, 90 / 3.6), (0.12, 0.12, 0.1), "s", 0.0, 1.0,
        "time from touchdown to the settling value over speed", said="ms",
    )  # fmt: skip
    blend: float = param(0.05, "s", 0.0, 1.0, "time in which rebound moves from one value to the other", said="ms")
    down_margin: float = param(0.02, "m", 0.002, 0.2, "distance from free hang at which a corner counts as down", said="mm")
    hang_travel: float = param(0.02, "m", -0.02, 0.4, "shaft travel at free hang", said="mm", by_corner=True, from_car="hang_travel")

    does_without = ("shaft_travel",)

    def prepared(self, dt: float) -> dict[str, Any]:
        """Shares per second, a division that can't fail."""
        return {"blend_rate": 1.0 / np.maximum(self.blend, dt), "release_rate": 1.0 / np.maximum(self.release, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Duty of both sides."""
        opens = now.landing * (1.0 - memory.was_open)
        memory.was_open = now.landing
        if opens > 0.0:
            memory.speed = now.vehicle_speed
            memory.severity = 0.0
        if now.landing > 0.0:
            memory.severity = max(memory.severity, min(max(now.landing_severity, 0.0), 1.0))
        settles = self.settling_after(memory.speed)
        scale = 1.0 - self.follow_severity * (1.0 - memory.severity)
        for corner in range(4):
            if opens > 0.0 or now.wheel_off[corner] > 0.0:
                memory.age[corner] = 0.0
            hangs = now.shaft_travel_valid[corner] > 0.5 and now.shaft_travel[corner] <= self.hang_travel[corner] + self.down_margin
            if now.landing > 0.0 and (memory.age[corner] > 0.0 or not hangs):
                memory.age[corner] += 1.0
            time = max(memory.age[corner] - 1.0, 0.0) * now.dt
            let_go = min(max((time - self.firm_for) * self.release_rate, 0.0), 1.0)
            settled = min(max((time - settles) * self.blend_rate, 0.0), 1.0)
            firm = self.compression[corner] * scale
            out.compression[corner] = firm + let_go * (min(self.settled_compression[corner], firm) - firm)
            out.rebound[corner] = self.touchdown_rebound[corner] + settled * (
                self.settling_rebound[corner] - self.touchdown_rebound[corner]
            )

"""On-off skyhook: firm on the side that holds the body, soft on the other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.each_tick import each_tick
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class SkyhookOnOff:
    """Rebound firm while the body rises, compression firm while it sinks, soft otherwise.

    The check valves pick the side, so the sign of the shaft speed is not needed.

    Notes
    -----
    One-valve form: c = c_max if z' v >= 0, else c_min, with z' the body's speed (up) and v the shaft's (rebound +). Two-valve
    form: rebound firm if z' > 0, compression firm if z' < 0. Conditions: z' is right down to the body resonance, and the valve
    is quick beside the wheel hop. It removes the body resonance and asks for the full firm duty however small the motion.

    Use with `set`, or with `raise` so that the base is the soft state. Not with the firmest duty the damper has: over random
    ground that is 1.2 times as harsh as the best fixed setting (`docs/laws.md`); a firm state of 0.12 to 0.2 of critical damping
    beats it by 11 to 16 %. Not with a valve slower than about 5 ms, nor over corrugation: each side then stands near its mean.
    Where the damper map is known, `SkyhookTwoWay` is better.

    References
    ----------
    D. Karnopp, M. J. Crosby, R. A. Harwood, Vibration control using semi-active force generators, ASME Journal of
    Engineering for Industry 96 (1974) 619-626 (citation and formula from memory).
    """

    soft_compression: float = param(0.1, "1", 0.0, 1.0, "compression duty of the soft state", said="pct", by_corner=True)
    firm_compression: float = param(0.6, "1", 0.0, 1.0, "compression duty of the firm state", said="pct", by_corner=True)
    soft_rebound: float = param(0.1, "1", 0.0, 1.0, "rebound duty of the soft state", said="pct", by_corner=True)
    firm_rebound: float = param(0.6, "1", 0.0, 1.0, "rebound duty of the firm state", said="pct", by_corner=True)
    dead_speed: float = param(0.03, "m/s", 0.0, 0.5, "body speed below which both sides are soft")

    ordered = (("soft_compression", "firm_compression"), ("soft_rebound", "firm_rebound"))

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Duty of both sides."""
        for corner in range(4):
            up = now.corner_speed[corner]
            out.compression[corner] = self.firm_compression[corner] if up < -self.dead_speed else self.soft_compression[corner]
            out.rebound[corner] = self.firm_rebound[corner] if up > self.dead_speed else self.soft_rebound[corner]

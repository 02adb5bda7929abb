"""On-off groundhook: firm on the side that holds the wheel, soft on the other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.each_tick import each_tick
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class GroundhookOnOff:
    """Compression firm while the wheel rises, rebound firm while it falls, soft otherwise.

    Notes
    -----
    One-valve form: c = c_max if -zt' v >= 0, else c_min, with zt' the wheel's speed (up) and v the shaft's (rebound +).
    Two-valve form: compression firm if zt' > 0, rebound firm if zt' < 0. The wheel's speed is body speed less shaft speed, so a
    wrong shaft speed reverses it: the value of v is needed here, not its sign.

    For tyre load on ground that excites the wheel hop. Not for comfort: it does nothing for the body resonance. Not where a
    fixed firm setting already damps the wheel hop with a ratio near 0.5: there it buys no grip, and costs comfort.

    References
    ----------
    M. Valasek, M. Novak, Z. Sika, O. Vaculin, Extended ground-hook, Vehicle System Dynamics 28 (1997) from p. 193 (citation and
    formula from memory).
    """

    soft_compression: float = param(0.1, "1", 0.0, 1.0, "compression duty of the soft state", said="pct", by_corner=True)
    firm_compression: float = param(0.6, "1", 0.0, 1.0, "compression duty of the firm state", said="pct", by_corner=True)
    soft_rebound: float = param(0.1, "1", 0.0, 1.0, "rebound duty of the soft state", said="pct", by_corner=True)
    firm_rebound: float = param(0.6, "1", 0.0, 1.0, "rebound duty of the firm state", said="pct", by_corner=True)
    dead_speed: float = param(0.05, "m/s", 0.0, 1.0, "wheel speed below which both sides are soft")

    ordered = (("soft_compression", "firm_compression"), ("soft_rebound", "firm_rebound"))

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Duty of both sides."""
        for corner in range(4):
            up = now.hub_speed[corner]
            out.compression[corner] = self.firm_compression[corner] if up > self.dead_speed else self.soft_compression[corner]
            out.rebound[corner] = self.firm_rebound[corner] if up < -self.dead_speed else self.soft_rebound[corner]

"""Hybrid hook: a share of skyhook for the body and the rest of groundhook for the wheel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.each_tick import each_tick
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class HybridHook:
    """Skyhook and groundhook in one number: share 1 is `SkyhookTwoWay`, share 0 is `Groundhook`.

    Notes
    -----
    F_rebound = G (a max(z', 0) + (1 - a) max(-zt', 0)), F_compression = G (a max(-z', 0) + (1 - a) max(zt', 0)): two-valve
    form of F = G (a s_sky + (1 - a) s_ground), with s_sky = z' where z' v > 0, s_ground = zt' where -zt' v > 0. The damping is
    shaft force over vertical speed, as `SkyhookTwoWay` counts it.

    Towards 0 the tyre's deflection at the wheel hop falls steadily and comfort is lost. Not a way to have both: where body and wheel
    want opposite sides, it asks for both at once, and the shaft takes the one it moves in.

    References
    ----------
    F. D. Goncalves, M. Ahmadian, A hybrid control policy for semi-active vehicle suspensions, Shock and Vibration 10 (2003) 59-69
    (citation as seen in a list of references; formula from memory).
    """

    damping: float = param(1500.0, "N·s/m", 0.0, 20000.0, "damping of both hooks at the shaft", by_corner=True)
    sky_share: float = param(0.7, "1", 0.0, 1.0, "share of the skyhook; the rest is groundhook", said="pct", by_corner=True)
    dead_speed: float = param(0.03, "m/s", 0.0, 0.5, "speed of body or wheel below which nothing is asked")

    returns = "Force"

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Force of both sides. [N]"""
        for corner in range(4):
            body = now.corner_speed[corner]
            wheel = now.hub_speed[corner]
            sky = self.sky_share[corner]
            firm = sky * max(-body - self.dead_speed, 0.0) + (1.0 - sky) * max(wheel - self.dead_speed, 0.0)
            out.compression[corner] = self.damping[corner] * firm
            firm = sky * max(body - self.dead_speed, 0.0) + (1.0 - sky) * max(-wheel - self.dead_speed, 0.0)
            out.rebound[corner] = self.damping[corner] * firm

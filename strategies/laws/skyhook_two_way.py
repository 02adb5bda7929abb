"""Two-way skyhook: brake the body's own vertical speed with the side that can."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.each_tick import each_tick
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class SkyhookTwoWay:
    """Wanted force = skyhook damping times corner body speed: rebound while the body rises, compression while it sinks.

    The check valves pick the side, so the sign of the shaft speed is not needed.

    Notes
    -----
    F_rebound = c max(z', 0), F_compression = c max(-z', 0): two-valve form of the continuous skyhook law. Use with
    `raise` over a base. Not for short, sharp ground (corrugation above about 8 Hz), where a soft damper is better.

    References
    ----------
    D. Karnopp, M. J. Crosby, R. A. Harwood, Vibration control using semi-active force generators, ASME Journal of
    Engineering for Industry 96 (1974) 619-626 (citation from memory).
    """

    damping: float = param(1500.0, "N·s/m", 0.0, 20000.0, "skyhook damping at the shaft", by_corner=True)
    dead_speed: float = param(0.03, "m/s", 0.0, 0.5, "body speed below which nothing is asked", said="m/s")

    returns = "Force"

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Force of both sides. [N]"""
        for corner in range(4):
            up = now.corner_speed[corner]
            out.compression[corner] = self.damping[corner] * max(-up - self.dead_speed, 0.0)
            out.rebound[corner] = self.damping[corner] * max(up - self.dead_speed, 0.0)

"""Groundhook: brake the wheel's own vertical speed with the side that can."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.each_tick import each_tick
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class Groundhook:
    """Wanted force = groundhook damping times wheel speed: compression while the wheel rises, rebound while it falls.

    Notes
    -----
    F_compression = c max(zt', 0), F_rebound = c max(-zt', 0), with zt' the wheel's speed (up): two-valve, continuous form. The
    damping is shaft force over vertical wheel speed, as `SkyhookTwoWay` counts it; at the wheel it is that times motion ratio.

    For tyre load on ground that excites the wheel hop; use with `raise`. Not for comfort. Not where the base already damps the
    wheel hop with a ratio near 0.5 (two-state form over random ground: tyre load as with the best fixed setting, body acceleration
    1.6 times it, see `docs/laws.md`).

    References
    ----------
    M. Valasek, M. Novak, Z. Sika, O. Vaculin, Extended ground-hook, Vehicle System Dynamics 28 (1997) from p. 193 (citation and
    formula from memory).
    """

    damping: float = param(1000.0, "N·s/m", 0.0, 20000.0, "groundhook damping at the shaft", by_corner=True)
    dead_speed: float = param(0.05, "m/s", 0.0, 1.0, "wheel speed below which nothing is asked")

    returns = "Force"

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Force of both sides. [N]"""
        for corner in range(4):
            up = now.hub_speed[corner]
            out.compression[corner] = self.damping[corner] * max(up - self.dead_speed, 0.0)
            out.rebound[corner] = self.damping[corner] * max(-up - self.dead_speed, 0.0)

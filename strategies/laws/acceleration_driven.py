"""Acceleration-driven: firm on the side that can lower the body's present acceleration."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import low_pass
from dualduty.each_tick import each_tick, share
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class AccelerationDriven:
    """Rebound firm while the body is accelerated upward, compression firm while downward, soft otherwise.

    Notes
    -----
    One-valve form (ADD): c = c_max if z'' v >= 0, else c_min. Two-valve form: rebound firm if z'' > 0, compression firm if
    z'' < 0. Derived for a quarter car with a first-order valve: the choice that makes z'' squared least one step ahead, ground
    unknown. Optimal means that one step only: over a stretch of ground a fixed setting may be better.

    For ground beyond the body resonance (about 1.4 to 8 Hz), where it is the best two-state law; at the resonance it is no better
    than a soft fixed setting: see `SkyhookAndAcceleration`. Not with an instantaneous valve, where it chatters, and not with
    one slower than about 5 ms, where each side stands near its mean: smooth z'', or take `PowerDriven`, which does the same
    without a switch. Not over corrugation.

    References
    ----------
    S. M. Savaresi, E. Silani, S. Bittanti, Acceleration-driven-damper (ADD), ASME Journal of Dynamic Systems, Measurement and
    Control 127 (2005) 218-229 (abstract read; formula and conditions from memory).
    """

    soft_compression: float = param(0.1, "1", 0.0, 1.0, "compression duty of the soft state", said="pct", by_corner=True)
    firm_compression: float = param(0.5, "1", 0.0, 1.0, "compression duty of the firm state", said="pct", by_corner=True)
    soft_rebound: float = param(0.1, "1", 0.0, 1.0, "rebound duty of the soft state", said="pct", by_corner=True)
    firm_rebound: float = param(0.5, "1", 0.0, 1.0, "rebound duty of the firm state", said="pct", by_corner=True)
    smooth_hz: float = param(15.0, "Hz", 2.0, 1000.0, "corner frequency of the smoothing of the body's acceleration")
    dead_acceleration: float = param(0.3, "m/s²", 0.0, 5.0, "body acceleration below which both sides are soft")

    ordered = (("soft_compression", "firm_compression"), ("soft_rebound", "firm_rebound"))

    def prepared(self, dt: float) -> dict[str, Any]:
        """Share of the smoothing per tick."""
        return {"smooth": share(self.smooth_hz, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Duty of both sides."""
        for corner in range(4):
            up = low_pass(memory.felt[corner], now.corner_acceleration[corner], self.smooth)
            out.compression[corner] = self.firm_compression[corner] if up < -self.dead_acceleration else self.soft_compression[corner]
            out.rebound[corner] = self.firm_rebound[corner] if up > self.dead_acceleration else self.soft_rebound[corner]

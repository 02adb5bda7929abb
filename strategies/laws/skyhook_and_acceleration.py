"""Skyhook at the body resonance and acceleration-driven beyond it, by which of the two motions is the larger."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import Any

from dualduty.cells import low_pass
from dualduty.each_tick import each_tick, share
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class SkyhookAndAcceleration:
    """Follows body speed while that dominates, body acceleration otherwise: rebound firm while it points up, compression while down.

    Notes
    -----
    One-valve form (SH-ADD): c = c_max if [z''^2 - a^2 z'^2 <= 0 and z' v > 0] or [z''^2 - a^2 z'^2 > 0 and z'' v > 0], else
    c_min. Two-valve form: with s = z' where |z''| <= a |z'|, else s = z''/a: rebound firm if s > 0, compression firm if s < 0.
    a = 2 pi crossover. Near 1.3 Hz (8 rad/s) r.m.s. acceleration over random ground is least in both of our corners, and flat
    from 1 to 2 Hz; the paper's own value was not readable.

    Follows the lower of the two laws' curves over frequency, with a valve of about 50 Hz. The valve's conditions are those of
    `AccelerationDriven`: an instantaneous one chatters, one slower than 5 ms parks near the mean. Not over corrugation.

    References
    ----------
    S. M. Savaresi, C. Spelta, Mixed sky-hook and ADD: approaching the filtering limits of a semi-active suspension, ASME
    Journal of Dynamic Systems, Measurement and Control 129 (2007) 382-392 (abstract read; formula from memory).
    """

    soft_compression: float = param(0.1, "1", 0.0, 1.0, "compression duty of the soft state", said="pct", by_corner=True)
    firm_compression: float = param(0.5, "1", 0.0, 1.0, "compression duty of the firm state", said="pct", by_corner=True)
    soft_rebound: float = param(0.1, "1", 0.0, 1.0, "rebound duty of the soft state", said="pct", by_corner=True)
    firm_rebound: float = param(0.5, "1", 0.0, 1.0, "rebound duty of the firm state", said="pct", by_corner=True)
    crossover_hz: float = param(1.3, "Hz", 0.3, 6.0, "frequency of a sine at which speed hands over to acceleration")
    smooth_hz: float = param(15.0, "Hz", 2.0, 1000.0, "corner frequency of the smoothing of the body's acceleration")
    dead_speed: float = param(0.03, "m/s", 0.0, 0.5, "body speed, or acceleration over crossover, below which both sides are soft")

    ordered = (("soft_compression", "firm_compression"), ("soft_rebound", "firm_rebound"))

    def prepared(self, dt: float) -> dict[str, Any]:
        """Share of the smoothing per tick, and the crossover as an angular frequency."""
        return {"smooth": share(self.smooth_hz, dt), "crossover": 2.0 * pi * self.crossover_hz}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Duty of both sides."""
        for corner in range(4):
            speed = now.corner_speed[corner]
            push = low_pass(memory.felt[corner], now.corner_acceleration[corner], self.smooth) / self.crossover
            up = speed if abs(push) <= abs(speed) else push
            out.compression[corner] = self.firm_compression[corner] if up < -self.dead_speed else self.soft_compression[corner]
            out.rebound[corner] = self.firm_rebound[corner] if up > self.dead_speed else self.soft_rebound[corner]

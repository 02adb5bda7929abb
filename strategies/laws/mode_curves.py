"""The base: duty over vehicle speed, per side and axle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.each_tick import each_tick
from dualduty.lookup import Curve
from dualduty.parameters import Axis, curve

_SPEED = Axis("vehicle_speed", "m/s", "km/h")
_POINTS = (0.0, 20 / 3.6, 50 / 3.6, 90 / 3.6)


@each_tick
@dataclass(frozen=True)
class ModeCurves:
    """Compression and rebound duty read off curves over vehicle speed; drive mode and axle fill the curves."""

    compression: Curve = curve(
        _SPEED, _POINTS, (0.15, 0.2, 0.3, 0.4), "1", 0.0, 1.0, "compression duty over speed", said="pct", by_corner=True
    )
    rebound: Curve = curve(_SPEED, _POINTS, (0.2, 0.25, 0.35, 0.45), "1", 0.0, 1.0, "rebound duty over speed", said="pct", by_corner=True)

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Duty of both sides."""
        for corner in range(4):
            out.compression[corner] = self.compression[corner](now.vehicle_speed)
            out.rebound[corner] = self.rebound[corner](now.vehicle_speed)

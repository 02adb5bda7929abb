"""The base: duty over vehicle speed, per side and axle."""

from __future__ import annotations

from dataclasses import dataclass

from dualduty.contract import Chunk, Duty, Memory
from dualduty.lookup import Curve
from dualduty.parameters import Axis, curve

_SPEED = Axis("vehicle_speed", "m/s", "km/h")
_POINTS = (0.0, 20 / 3.6, 50 / 3.6, 90 / 3.6)


@dataclass(frozen=True)
class ModeCurves:
    """Compression and rebound duty read off curves over vehicle speed; drive mode and axle fill the curves."""

    compression: Curve = curve(
        _SPEED, _POINTS, (0.15, 0.2, 0.3, 0.4), "1", 0.0, 1.0, "compression duty over speed", said="pct", by_corner=True
    )
    rebound: Curve = curve(_SPEED, _POINTS, (0.2, 0.25, 0.35, 0.45), "1", 0.0, 1.0, "rebound duty over speed", said="pct", by_corner=True)

    def run(self, now: Chunk, memory: Memory) -> Duty:
        """Duty of both sides."""
        return Duty(self.compression(now.vehicle_speed), self.rebound(now.vehicle_speed))

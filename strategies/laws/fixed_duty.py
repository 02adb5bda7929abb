"""Fixed duties: hardware at constant setting, a preset for flight, or a takeover."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.each_tick import each_tick
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class FixedDuty:
    """Any compression duty beside any rebound duty, corner by corner: 80 % and 20 % here, the opposite there."""

    compression: float = param(0.5, "1", 0.0, 1.0, "compression duty", said="pct", by_corner=True)
    rebound: float = param(0.5, "1", 0.0, 1.0, "rebound duty", said="pct", by_corner=True)

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Duty of both sides."""
        for corner in range(4):
            out.compression[corner] = self.compression[corner]
            out.rebound[corner] = self.rebound[corner]

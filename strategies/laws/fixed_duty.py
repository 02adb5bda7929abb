"""Fixed duties: hardware at constant setting, a preset for flight, or a takeover."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dualduty.contract import Chunk, Duty, Memory
from dualduty.parameters import param


@dataclass(frozen=True)
class FixedDuty:
    """Any compression duty beside any rebound duty, corner by corner: 80 % and 20 % here, the opposite there."""

    compression: float = param(0.5, "1", 0.0, 1.0, "compression duty", said="pct", by_corner=True)
    rebound: float = param(0.5, "1", 0.0, 1.0, "rebound duty", said="pct", by_corner=True)

    def run(self, now: Chunk, memory: Memory) -> Duty:
        """Duty of both sides."""
        like = np.zeros_like(now.specific_force_z)
        return Duty(like + self.compression, like + self.rebound)

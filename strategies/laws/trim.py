"""A trim on top of the layers beneath: add some duty, or take some out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dualduty.contract import Chunk, Duty, Memory
from dualduty.parameters import param


@dataclass(frozen=True)
class Trim:
    """Duty to add to what lies beneath, corner by corner; negative takes it out: less rebound over the whoops, say."""

    compression: float = param(0.0, "1", -1.0, 1.0, "compression duty added, negative to take it out", said="pct", by_corner=True)
    rebound: float = param(0.0, "1", -1.0, 1.0, "rebound duty added, negative to take it out", said="pct", by_corner=True)

    trims = True

    def run(self, now: Chunk, memory: Memory) -> Duty:
        """Duty added on both sides."""
        like = np.zeros_like(now.specific_force_z)
        return Duty(like + self.compression, like + self.rebound)

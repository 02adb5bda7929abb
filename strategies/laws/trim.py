"""A trim on top of the layers beneath: add some duty, or take some out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.each_tick import each_tick
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class Trim:
    """Duty to add to what lies beneath, corner by corner; negative takes it out: less rebound over the whoops, say."""

    compression: float = param(0.0, "1", -1.0, 1.0, "compression duty added, negative to take it out", said="pct", by_corner=True)
    rebound: float = param(0.0, "1", -1.0, 1.0, "rebound duty added, negative to take it out", said="pct", by_corner=True)

    trims = True

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Duty added on both sides."""
        for corner in range(4):
            out.compression[corner] = self.compression[corner]
            out.rebound[corner] = self.rebound[corner]

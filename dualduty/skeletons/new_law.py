"""NewLaw: say in one sentence what it does for the vehicle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import low_pass
from dualduty.each_tick import each_tick, share
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class NewLaw:
    """Which side it firms, when, and against what: one sentence.

    Formula: compression = compression duty * min(closing speed / full speed, 1); rebound the same with the opening speed.
    Source: author, title, year, equation or table; else "common practice", else "own".
    Holds for: ground, speeds, loads and drive modes for which the formula is meant.
    Not for: where it must stay closed, and why; the act it wants in a layer (this one: `raise`).
    """

    compression: float = param(0.4, "1", 0.0, 1.0, "compression duty at full speed", said="pct", by_corner=True)
    rebound: float = param(0.4, "1", 0.0, 1.0, "rebound duty at full speed", said="pct", by_corner=True)
    full_speed: float = param(0.8, "m/s", 0.1, 5.0, "shaft speed at which it asks for all of it")
    smooth_hz: float = param(8.0, "Hz", 0.5, 50.0, "corner frequency of the smoothing of shaft speed")

    def prepared(self, dt: float) -> dict[str, Any]:
        """What depends on parameters only, worked out once."""
        return {"smooth": share(self.smooth_hz, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """One tick: a duty for each side of each corner, 0 soft to 1 firm; a side that is never mentioned is left alone."""
        for corner in range(4):
            speed = low_pass(memory.speed[corner], now.shaft_speed[corner], self.smooth)
            out.compression[corner] = self.compression[corner] * min(max(speed / self.full_speed, 0.0), 1.0)
            out.rebound[corner] = self.rebound[corner] * min(max(-speed / self.full_speed, 0.0), 1.0)

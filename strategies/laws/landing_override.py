"""Landing override: firm compression against the blow, then rebound so that the vehicle doesn't kick back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from dualduty.blocks import keep_while, schmitt_trigger, slew_limit
from dualduty.contract import Chunk, Duty, Memory
from dualduty.parameters import param

_BLEND_RATE: Final = 20.0  # 1/s: the rebound changes over 50 ms, no step into the shaft


@dataclass(frozen=True)
class LandingOverride:
    """Compression from touchdown on; rebound moves from its touchdown value to its settling value after a while.

    Each corner's while starts when its own shaft has left free hang: a rear axle that lands later settles later.
    Use with `set`, when landing. Full firm is not the softest landing until the drop is large: try 50 to 75 % first
    (nonlinear corner model; on a vehicle, calibrate).
    """

    compression: float = param(0.75, "1", 0.0, 1.0, "compression duty during the landing", said="pct", by_corner=True)
    touchdown_rebound: float = param(0.4, "1", 0.0, 1.0, "rebound duty at touchdown", said="pct", by_corner=True)
    settling_rebound: float = param(0.7, "1", 0.0, 1.0, "rebound duty once the shafts come back", said="pct", by_corner=True)
    settling_after: float = param(0.12, "s", 0.0, 1.0, "time from touchdown to the settling value", said="ms")

    down_margin: float = param(0.02, "m", 0.002, 0.2, "distance from free hang at which a corner counts as down", said="mm")
    hang_travel: float = param(0.02, "m", -0.02, 0.4, "shaft travel at free hang", said="mm", by_corner=True, from_car="hang_travel")

    def run(self, now: Chunk, memory: Memory) -> Duty:
        """Duty of both sides."""
        down = now.landing.active * (now.shaft_travel > self.hang_travel + self.down_margin)
        touched = schmitt_trigger(down + 0.5 * now.landing.active, 1.0, 0.25, memory("touched"))  # stays until the state closes
        settling = schmitt_trigger(touched, 0.5, 0.5, memory("stage"), on_delay=self.settling_after)
        kept = keep_while(settling, 1.0 - now.landing.active, memory("kept"))  # the demand stands while the layer fades out
        blend = slew_limit(kept, _BLEND_RATE, _BLEND_RATE, memory("blend"))
        rebound = self.touchdown_rebound + blend * (self.settling_rebound - self.touchdown_rebound)
        return Duty(compression=np.zeros_like(blend) + self.compression, rebound=rebound)

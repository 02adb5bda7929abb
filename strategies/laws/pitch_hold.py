"""Pitch hold: support the end that sinks in compression and hold the end that rises in rebound."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.cells import keep_while, slew
from dualduty.each_tick import each_tick
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class PitchHold:
    """Floors while slowed (front compression, rear rebound) or driven (rear compression, front rebound), and feedback on pitch rate.

    Use with `raise`, when braking, accelerating or both; brake counts before throttle. The direction is kept after the
    states close, so that the demand stands while the layer fades out, and is crossed in `change_over`.

    Not for rough ground braked upon for long: a floor under front compression sends every hit to the body, so keep it
    low there or hold the layer back. Not while airborne: pitch is then momentum, and no damper can change it.

    Notes
    -----
    Front compression with rear rebound against dive is the two-valve form of brake support, its opposite the one against
    squat (common practice). The rate term asks gain x pitch' on the sides that resist it: no sign of a shaft speed is needed.
    """

    front_compression: float = param(0.5, "1", 0.0, 1.0, "compression duty at the front while slowed", said="pct")
    rear_rebound: float = param(0.5, "1", 0.0, 1.0, "rebound duty at the rear while slowed", said="pct")
    rear_compression: float = param(0.4, "1", 0.0, 1.0, "compression duty at the rear while driven", said="pct")
    front_rebound: float = param(0.4, "1", 0.0, 1.0, "rebound duty at the front while driven", said="pct")
    rate_gain: float = param(0.3, "s/rad", 0.0, 5.0, "duty per pitch rate, on the sides that resist it")
    change_over: float = param(0.05, "s", 0.0, 1.0, "time from slowed to driven and back", said="ms")

    def prepared(self, dt: float) -> dict[str, Any]:
        """Step per tick."""
        return {"turn": 2.0 * dt / np.maximum(self.change_over, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Duty of both sides."""
        wanted = now.braking - now.accelerating * (1.0 - now.braking)
        kept = keep_while(memory.kept, wanted, 1.0 - max(now.braking, now.accelerating))
        side = slew(memory.side, kept, self.turn, self.turn)
        slowed = max(side, 0.0)
        driven = max(-side, 0.0)
        nose_down = now.net_pitch_rate * self.rate_gain
        front_compression = min(max(slowed * self.front_compression, nose_down), 1.0)
        rear_rebound = min(max(slowed * self.rear_rebound, nose_down), 1.0)
        rear_compression = min(max(driven * self.rear_compression, -nose_down), 1.0)
        front_rebound = min(max(driven * self.front_rebound, -nose_down), 1.0)
        for corner in range(4):
            out.compression[corner] = front_compression if corner < 2 else rear_compression
            out.rebound[corner] = front_rebound if corner < 2 else rear_rebound

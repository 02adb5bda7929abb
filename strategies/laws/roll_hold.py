"""Roll hold: support the outside in compression and hold the inside in rebound."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dualduty.blocks import keep_while
from dualduty.contract import Chunk, Duty, Memory
from dualduty.lookup import between
from dualduty.parameters import param


@dataclass(frozen=True)
class RollHold:
    """Floors for a corner: compression on the outer side, rebound on the inner side, plus a share of the roll rate.

    The side is kept after the state closes, so the demand stands while the layer fades out. Use with `raise`.

    Notes
    -----
    Outer compression and inner rebound floors are the two-valve form of roll support; the rate term firms exactly the
    two sides that resist the roll, so the sign of the shaft speed is not needed.
    """

    outer_compression: float = param(0.55, "1", 0.0, 1.0, "compression duty on the outside of the turn", said="pct", by_corner=True)
    inner_rebound: float = param(0.5, "1", 0.0, 1.0, "rebound duty on the inside of the turn", said="pct", by_corner=True)
    rate_gain: float = param(0.3, "s/rad", 0.0, 5.0, "duty per roll rate, on the sides that resist it", by_corner=True)

    def run(self, now: Chunk, memory: Memory) -> Duty:
        """Duty of both sides (4, time, case)."""
        turning_left = now.cornering_outer.active[1:2] - now.cornering_outer.active[0:1]
        side = keep_while(turning_left, 1.0 - now.cornering.active, memory("side"))
        left, right = np.maximum(-side, 0.0), np.maximum(side, 0.0)
        right_down = now.net_roll_rate
        presses = np.concatenate([-right_down, right_down, -right_down, right_down]) * self.rate_gain
        outer = np.concatenate([left, right, left, right])
        inner = np.concatenate([right, left, right, left])
        return Duty(
            compression=between(0.0, np.maximum(outer * self.outer_compression, presses), 1.0),
            rebound=between(0.0, np.maximum(inner * self.inner_rebound, -presses), 1.0),
        )

"""Roll hold: support the outside in compression and hold the inside in rebound."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.cells import keep_while, low_pass, slew
from dualduty.each_tick import each_tick, share
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class RollHold:
    """Duties for a corner by side of the turn, and feedback on roll rate and suspension roll where that resists the roll.

    With `raise` it is a floor under outer compression and inner rebound. With `set` it takes the corner over: then say
    all four duties, since `outer_rebound` and `inner_compression` are 0, fully soft, until said. The side is kept after
    `cornering` closes, so that the demand stands while the layer fades out; a turn the other way is crossed in `change_over`.

    Not for use without `when = ["cornering"]`: the kept side would stand until the next corner. Not while airborne, where
    travels say nothing of roll; not for side slopes, whose standing roll no damper can hold (`free_roll` lets it pass).

    Notes
    -----
    resist = rate_gain roll' + roll_gain (roll beyond free_roll), positive with the right side going down: compression on
    the right and rebound on the left ask for it, the other two for its negative. So no sign of a shaft speed is needed,
    and on the way back the angle takes out what the rate puts in: a damper can only resist. Outer compression with inner
    rebound is the two-valve form of roll support (common practice); roll is taken from the travels, which a bank doesn't fool.
    """

    outer_compression: float = param(0.55, "1", 0.0, 1.0, "compression duty on the outside of the turn", said="pct", by_corner=True)
    inner_rebound: float = param(0.5, "1", 0.0, 1.0, "rebound duty on the inside of the turn", said="pct", by_corner=True)
    outer_rebound: float = param(0.0, "1", 0.0, 1.0, "rebound duty on the outside of the turn", said="pct", by_corner=True)
    inner_compression: float = param(0.0, "1", 0.0, 1.0, "compression duty on the inside of the turn", said="pct", by_corner=True)
    rate_gain: float = param(0.3, "s/rad", 0.0, 5.0, "duty per roll rate, on the sides that resist it", by_corner=True)
    roll_gain: float = param(0.0, "1/rad", 0.0, 20.0, "duty per suspension roll, on the sides that resist", said="%/deg", by_corner=True)
    free_roll: float = param(0.02, "rad", 0.0, 0.3, "suspension roll below which its feedback asks nothing", said="deg")
    smooth_hz: float = param(5.0, "Hz", 0.5, 50.0, "corner frequency of the smoothing of suspension roll")
    change_over: float = param(0.05, "s", 0.0, 1.0, "time from one side of the turn to the other", said="ms")

    def prepared(self, dt: float) -> dict[str, Any]:
        """Shares and steps per tick."""
        return {"smooth": share(self.smooth_hz, dt), "turn": 2.0 * dt / np.maximum(self.change_over, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Duty of both sides."""
        turning_left = now.cornering_outer[1] - now.cornering_outer[0]
        kept = keep_while(memory.kept, turning_left, 1.0 - now.cornering)
        side = slew(memory.side, kept, self.turn, self.turn)
        roll = low_pass(memory.roll, now.suspension_roll, self.smooth)
        beyond = max(roll - self.free_roll, 0.0) - max(-roll - self.free_roll, 0.0)
        for corner in range(4):
            right = 2.0 * (corner % 2) - 1.0
            outer = max(right * side, 0.0)
            inner = max(-right * side, 0.0)
            resist = right * (now.net_roll_rate * self.rate_gain[corner] + beyond * self.roll_gain[corner])
            compression = outer * self.outer_compression[corner] + inner * self.inner_compression[corner]
            rebound = inner * self.inner_rebound[corner] + outer * self.outer_rebound[corner]
            out.compression[corner] = min(max(compression, resist), 1.0)
            out.rebound[corner] = min(max(rebound, -resist), 1.0)

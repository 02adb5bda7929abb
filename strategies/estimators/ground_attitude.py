"""Bank and slope of the ground under the vehicle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import keep_while, low_pass
from dualduty.contract import quantity
from dualduty.each_tick import each_tick, share
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class GroundAttitude:
    """What of the body's angles the suspension doesn't make: the ground's bank and slope.

    Body roll = bank + suspension roll + roll on the tyres (left in the bank: some 0.5 deg at half a g). In the air nothing is known
    of the ground: the last values stay.
    """

    corner_hz: float = param(4.0, "Hz", 0.2, 50.0, "corner frequency of the smoothing")

    gives = (
        quantity("ground_bank", "rad", "bank of the ground, right side down positive", corners=1, mirror=-1),
        quantity("ground_slope", "rad", "slope of the ground, downhill positive", corners=1),
    )

    def prepared(self, dt: float) -> dict[str, Any]:
        """Share of the smoothing."""
        return {"smooth": share(self.corner_hz, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Bank and slope. [rad]"""
        aloft = max(now.airborne_likely, now.airborne)
        bank = keep_while(memory.bank_kept, now.body_roll - now.suspension_roll, aloft)
        slope = keep_while(memory.slope_kept, now.body_pitch - now.suspension_pitch, aloft)
        out.ground_bank = low_pass(memory.bank, bank, self.smooth)
        out.ground_slope = low_pass(memory.slope, slope, self.smooth)

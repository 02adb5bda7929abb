"""Side slope: the ground leans across the vehicle while it does not turn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import low_pass, trigger
from dualduty.contract import state
from dualduty.each_tick import each_tick, share, ticks
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY


@each_tick
@dataclass(frozen=True)
class SideSlope:
    """`side_slope` while the ground's bank is steep and the vehicle drives straight on or stands; `side_slope_upper`: the uphill corners.

    The bank is that of the ground, without what the suspension rolls; turning is yaw rate times speed. A berm in a corner is no side
    slope: there the bank carries the car instead of tipping it.

    Notes
    -----
    8 deg on, 5 deg off: ours. What counts for the car is that the weight moves by about cg height over half the track times tan(bank):
    at 8 deg and 0.63 m over 0.75 m some 12 % of it goes to the lower side.
    """

    on_bank: float = param(0.14, "rad", 0.02, 0.7, "bank of the ground that opens the state", said="deg")
    off_bank: float = param(0.09, "rad", 0.01, 0.7, "bank below which it closes", said="deg")
    full_bank: float = param(0.35, "rad", 0.05, 0.8, "bank at full strength", said="deg")
    straight: float = param(0.15 * STANDARD_GRAVITY, "m/s²", 0.2, 6.0, "lateral acceleration that still counts as straight on", said="g")
    smooth_hz: float = param(2.0, "Hz", 0.2, 20.0, "corner frequency of the smoothing of both")
    on_delay: float = param(0.3, "s", 0.0, 2.0, "how long it must last: ruts and the way out of a berm are shorter", said="ms")
    off_delay: float = param(0.3, "s", 0.0, 2.0, "how long it must be gone to close", said="ms")
    stays: float = param(0.3, "s", 0.0, 2.0, "shortest time open", said="ms")

    ordered = (("off_bank", "on_bank"), ("off_bank", "full_bank"))
    gives = (
        state("side_slope", "the ground leans across the vehicle, which does not turn"),
        state("side_slope_upper", "this corner is uphill on a side slope", corners=4),
    )

    def prepared(self, dt: float) -> dict[str, Any]:
        """Share and whole ticks."""
        return {
            "smooth": share(self.smooth_hz, dt),
            "on_ticks": ticks(self.on_delay, dt),
            "off_ticks": ticks(self.off_delay, dt),
            "stay_ticks": ticks(self.stays, dt),
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """One tick: which side is down, and is the vehicle turning."""
        bank = low_pass(memory.bank, now.ground_bank, self.smooth)
        turn = abs(low_pass(memory.turn, now.yaw_rate * now.vehicle_speed, self.smooth))
        leans = bank if turn <= self.straight else 0.0
        right_down = trigger(memory.right_down, leans, self.on_bank, self.off_bank, self.on_ticks, self.off_ticks, self.stay_ticks)
        left_down = trigger(memory.left_down, -leans, self.on_bank, self.off_bank, self.on_ticks, self.off_ticks, self.stay_ticks)
        strength = min(max((abs(leans) - self.off_bank) / max(self.full_bank - self.off_bank, 0.01), 0.0), 1.0)
        out.side_slope = max(right_down, left_down)
        out.side_slope_strength = strength
        for corner in range(4):
            out.side_slope_upper[corner] = right_down if corner % 2 == 0 else left_down
            out.side_slope_upper_strength[corner] = strength

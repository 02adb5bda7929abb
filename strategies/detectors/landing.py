"""Landing: the moments after the wheels come down."""

from __future__ import annotations

from dataclasses import dataclass

from dualduty.blocks import hold, low_pass
from dualduty.contract import Chunk, Memory, State, state
from dualduty.lookup import between
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY


@dataclass(frozen=True)
class Landing:
    """Opened by rising force or by shafts compressing fast, soon after the vehicle was airborne; stays for a while.

    Notes
    -----
    1.3 to 1.5 g, 1 to 2 m/s at two or more corners, latch of 0.3 to 0.6 s: common practice, from memory.
    """

    smooth_hz: float = param(60.0, "Hz", 5.0, 200.0, "corner frequency of the smoothing of specific force")
    on_force: float = param(1.3 * STANDARD_GRAVITY, "m/s²", 9.0, 60.0, "felt force that counts as touchdown", said="g")
    on_speed: float = param(0.8, "m/s", 0.1, 5.0, "shaft compression speed that counts as touchdown")
    corners_needed: float = param(2.0, "1", 1.0, 4.0, "how many corners must compress that fast")
    within: float = param(0.25, "s", 0.02, 2.0, "how soon after flight it must come", said="ms")
    stays: float = param(0.45, "s", 0.05, 3.0, "how long the state lasts after the last sign of touchdown", said="ms")

    gives = (state("landing", "wheels have just come down after flight"),)

    def run(self, now: Chunk, memory: Memory) -> dict[str, State]:
        """State `landing` (1, time, case)."""
        felt = low_pass(now.specific_force_z, self.smooth_hz, memory("felt"))
        fast = (now.shaft_speed > self.on_speed).sum(axis=0, keepdims=True)
        touch = (felt > self.on_force) | (fast >= self.corners_needed)
        lately = hold(now.airborne.active, self.within, memory("lately"))
        active = hold(touch * lately, self.stays, memory("stays"))
        strength = between(0.0, (felt / STANDARD_GRAVITY - 1.0) / 3.0, 1.0)
        return {"landing": State(active, strength)}

"""Braking: the brake demand first, deceleration as a second witness."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dualduty.blocks import low_pass, schmitt_trigger
from dualduty.contract import Chunk, Memory, State, state
from dualduty.lookup import between
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY


@dataclass(frozen=True)
class Braking:
    """Opened by the brake demand, or by deceleration where the demand is small (engine braking, a soft stretch).

    Notes
    -----
    Demand first, 0.15 to 0.3 g, 2 to 5 Hz: common practice, from memory.
    """

    on_demand: float = param(0.08, "1", 0.01, 1.0, "brake demand that opens the state", said="pct")
    off_demand: float = param(0.04, "1", 0.0, 1.0, "brake demand below which it closes", said="pct")
    on_deceleration: float = param(0.3 * STANDARD_GRAVITY, "m/s²", 0.5, 12.0, "deceleration that opens the state by itself", said="g")
    off_deceleration: float = param(0.18 * STANDARD_GRAVITY, "m/s²", 0.3, 12.0, "deceleration below which it closes", said="g")
    smooth_hz: float = param(4.0, "Hz", 0.3, 20.0, "corner frequency of the smoothing of deceleration")
    full: float = param(0.7 * STANDARD_GRAVITY, "m/s²", 0.5, 15.0, "deceleration at full strength", said="g")
    felt_for: float = param(0.12, "s", 0.0, 1.0, "how long deceleration alone must last: a landing or a ledge is shorter", said="ms")
    off_delay: float = param(0.15, "s", 0.0, 2.0, "how long both must be small to close", said="ms")

    ordered = (("off_demand", "on_demand"), ("off_deceleration", "on_deceleration"))
    gives = (state("braking", "the vehicle is being slowed"),)

    def run(self, now: Chunk, memory: Memory) -> dict[str, State]:
        """State `braking` (1, time, case)."""
        slowing = low_pass(-now.specific_force_x, self.smooth_hz, memory("slowing"))
        pedal = schmitt_trigger(now.brake, self.on_demand, self.off_demand, memory("pedal"), off_delay=self.off_delay)
        felt = schmitt_trigger(
            slowing, self.on_deceleration, self.off_deceleration, memory("felt"), on_delay=self.felt_for, off_delay=self.off_delay
        )
        strength = between(0.0, slowing / self.full, 1.0)
        return {"braking": State(np.maximum(pedal, felt), strength)}

"""Airborne in two stages: a fast, reversible pre-arm, and a confirmation by the wheels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dualduty.blocks import low_pass, schmitt_trigger
from dualduty.contract import Array, Chunk, Memory, State, state
from dualduty.lookup import between
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY


@dataclass(frozen=True)
class Airborne:
    """`airborne_likely` when the body feels little force; `airborne` when also enough wheels hang; `wheel_off` by corner.

    A wheel is off when its shaft stands within `hang_margin` of the free-hang position (in flight the spring goes slack
    before the droop stop) while the body feels little force.

    Notes
    -----
    Specific force falls below about half of g within 30 to 60 ms of lift-off, the shafts reach free hang after about
    130 ms: measured on a nonlinear corner model, not on a vehicle. Thresholds 0.3 to 0.5 g: common practice.
    """

    smooth_hz: float = param(30.0, "Hz", 5.0, 100.0, "corner frequency of the smoothing of specific force")
    on_force: float = param(0.5 * STANDARD_GRAVITY, "m/s²", 0.5, 9.0, "felt force below which the vehicle is likely airborne", said="g")
    off_force: float = param(0.75 * STANDARD_GRAVITY, "m/s²", 0.5, 20.0, "felt force above which it no longer is", said="g")
    likely_after: float = param(0.016, "s", 0.0, 0.5, "how long the force must be low for the pre-arm", said="ms")
    sure_after: float = param(0.03, "s", 0.0, 0.5, "how long the wheels must hang for the confirmation", said="ms")
    stays: float = param(0.04, "s", 0.0, 1.0, "shortest time confirmed", said="ms")
    hang_margin: float = param(0.035, "m", 0.005, 0.2, "distance from free hang that still counts as hanging", said="mm")
    wheels_needed: float = param(3.0, "1", 1.0, 4.0, "how many wheels must hang for the confirmation")
    hang_travel: float = param(0.02, "m", -0.02, 0.4, "shaft travel at free hang", said="mm", by_corner=True, from_car="hang_travel")

    ordered = (("on_force", "off_force"),)
    gives = (
        state("airborne_likely", "the body feels little force: wheels may have left the ground"),
        state("airborne", "in the air: little force felt and enough wheels hang"),
        state("wheel_off", "this wheel hangs while the body feels little force", corners=4),
    )

    def run(self, now: Chunk, memory: Memory) -> dict[str, State]:
        """States `airborne_likely`, `airborne` (1, time, case) and `wheel_off` (4, time, case)."""
        felt = self._felt(now, memory)
        likely = schmitt_trigger(-felt, -self.on_force, -self.off_force, memory("likely"), on_delay=self.likely_after)
        hanging = (now.shaft_travel < self.hang_travel + self.hang_margin) * likely
        off = schmitt_trigger(hanging, 0.5, 0.5, memory("wheel_off"))
        votes = off.sum(axis=0, keepdims=True) - self.wheels_needed
        sure = schmitt_trigger(votes, 0.0, 0.0, memory("sure"), on_delay=self.sure_after, dwell=self.stays)
        strength = between(0.0, 1.0 - felt / self.off_force, 1.0)
        return {"airborne_likely": State(likely, strength), "airborne": State(sure, strength), "wheel_off": State(off)}

    def _felt(self, now: Chunk, memory: Memory) -> Array:
        """Magnitude of specific force, smoothed."""
        square = now.specific_force_x**2 + now.specific_force_y**2 + now.specific_force_z**2
        return low_pass(np.sqrt(square), self.smooth_hz, memory("felt"))

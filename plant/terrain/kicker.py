"""Kicker: a ramp with a lip, a gap behind it, and a landing that is flat or falls away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from plant.shapes import rounded_ramp, smooth_step

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Kicker:
    """Ramp to a sharp lip, a steep face down to the gap's floor, and the landing.

    Notes
    -----
    The floor of the gap and everything after the landing lie `drop` below the start. A `landing_height` of 0 is a flat
    landing on the floor; otherwise a face like the first rises at the end of the gap and the landing falls from there
    to the floor. Faces are half cosines over `face`, so that no height ever steps; the steepest slope is pi/2·height/face.
    """

    ramp: float = param(6.0, "m", 0.5, 40.0, "length of the ramp up to the lip")
    foot: float = param(3.0, "m", 0.0, 40.0, "length at the foot of the ramp over which its slope grows")
    lip_height: float = param(0.6, "m", 0.05, 4.0, "height of the lip", said="mm")
    face: float = param(0.4, "m", 0.1, 10.0, "length of the steep face behind the lip", said="mm")
    gap: float = param(6.0, "m", 0.2, 60.0, "distance from the lip to the start of the landing")
    landing_height: float = param(0.0, "m", 0.0, 4.0, "height of the landing's start over the floor, 0 for a flat landing", said="mm")
    landing: float = param(8.0, "m", 1.0, 80.0, "length over which the landing falls to the floor")
    drop: float = param(0.0, "m", -3.0, 6.0, "how far the floor lies below the start", said="mm")
    required = ("ramp", "lip_height")

    def __post_init__(self) -> None:
        if self.foot > self.ramp:
            raise ValueError(f"foot {self.foot:g} m is longer than the ramp of {self.ramp:g} m")
        if self.landing_height > 0 and self.gap < 2.0 * self.face:
            raise ValueError(f"gap {self.gap:g} m leaves no room for two faces of {self.face:g} m")

    @property
    def lip_slope(self) -> float:
        """Slope of the ground at the lip. [1]"""
        return self.lip_height / (self.ramp - 0.5 * self.foot)

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Left and right heights."""
        behind = along - self.ramp
        up = self.lip_height * rounded_ramp(along, self.ramp, self.foot)
        down = (self.lip_height + self.drop) * smooth_step(behind / self.face)
        landing = smooth_step((behind - self.gap + self.face) / self.face) * smooth_step((self.gap + self.landing - behind) / self.landing)
        both = up - down + self.landing_height * landing
        return both, both.copy()

"""Crest: a long smooth rise over whose top the vehicle goes light."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY
from plant.shapes import smooth_plateau

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Crest:
    """Half cosines up to a top and down again; with a short top the vehicle floats once, with a long one it settles in between."""

    height: float = param(1.0, "m", 0.05, 10.0, "height of the top over the level ground")
    rise: float = param(12.0, "m", 1.0, 200.0, "length of the way up")
    top: float = param(0.0, "m", 0.0, 200.0, "length of the level top")
    fall: float = param(12.0, "m", 1.0, 200.0, "length of the way down")
    required = ("height", "rise", "fall")

    @property
    def floating_speed(self) -> float:
        """Speed at which a point that follows the ground weighs nothing at the top: v² · bend = g. [m/s]"""
        bend = 0.5 * np.pi**2 * self.height / min(self.rise, self.fall) ** 2
        return float(np.sqrt(STANDARD_GRAVITY / bend))

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Left and right heights."""
        both = self.height * smooth_plateau(along, self.rise, self.top, self.fall)
        return both, both.copy()

"""Dip: a hollow across both tracks that presses the vehicle down at its floor."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from plant.shapes import smooth_plateau

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Dip:
    """Half cosines down to a floor and up again.

    Notes
    -----
    Where the entry meets the floor the ground bends up by pi²/2 · depth/entry², so that a vehicle that follows it at
    speed v is heavier there by v² times that.
    """

    depth: float = param(0.4, "m", 0.02, 4.0, "depth of the floor below the level ground", said="mm")
    entry: float = param(6.0, "m", 0.5, 100.0, "length of the way down")
    floor: float = param(0.0, "m", 0.0, 200.0, "length of the level floor")
    climb_out: float = param(6.0, "m", 0.5, 100.0, "length of the way up")
    required = ("depth", "entry", "climb_out")

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Left and right heights."""
        both = -self.depth * smooth_plateau(along, self.entry, self.floor, self.climb_out)
        return both, both.copy()

"""Side slope: a long bank across which one drives, with a run-in and a run-out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from plant.section_file import choice
from plant.shapes import banked, smooth_plateau

Array = NDArray[np.float64]


@dataclass(frozen=True)
class SideSlope:
    """The ground turns about the centre line until the low side lies down-hill, and stays so."""

    slope: float = param(0.2, "rad", 0.01, 0.7, "angle of the slope across the tracks", said="deg")
    low_side: str = choice("right", ("left", "right"), "the side that lies down-hill")
    run_in: float = param(8.0, "m", 1.0, 100.0, "length over which the slope grows")
    hold: float = param(60.0, "m", 0.0, 5000.0, "length at full slope")
    run_out: float = param(8.0, "m", 1.0, 100.0, "length over which the slope goes away")
    track: float = param(1.5, "m", 0.3, 3.0, "distance between the wheel tracks")
    required = ("slope", "low_side", "run_in", "hold", "run_out")

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Left and right heights."""
        sign = 1.0 if self.low_side == "left" else -1.0
        return banked(sign * self.slope * smooth_plateau(along, self.run_in, self.hold, self.run_out), self.track)

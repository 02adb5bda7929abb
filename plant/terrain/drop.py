"""Drop: the ground steps down over a sharp edge onto flat ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from plant.section_file import choice
from plant.shapes import check_carried, on_side, smooth_step

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Drop:
    """A straight face from a sharp lip to a sharp foot, flat ground beyond, and a smooth climb back where one is wanted.

    Notes
    -----
    A `landing` of 0 is flat for good. Unlike `ledge`, whose face is rounded, the lip is an edge: at speed a wheel leaves it
    in free flight and comes down sqrt(2·height/g) later if nothing pushes it.
    """

    height: float = param(0.3, "m", 0.02, 3.0, "how far the ground steps down", said="mm")
    edge: float = param(0.1, "m", 0.02, 5.0, "length of the face from lip to foot", said="mm")
    landing: float = param(0.0, "m", 0.0, 1000.0, "length of the flat ground beyond, 0 for good")
    climb_out: float = param(20.0, "m", 1.0, 200.0, "length over which the ground comes back after the landing")
    side: str = choice("both", ("both", "left", "right"), "which track")
    required = ("height", "edge")

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Left and right heights."""
        check_carried("edge", self.edge, along, 1)
        depth = np.clip(along / self.edge, 0.0, 1.0)
        if self.landing > 0:
            depth = depth - smooth_step((along - self.edge - self.landing) / self.climb_out)
        return on_side(-self.height * depth, self.side)

"""Hump: a single crest, or a dip where its height is negative, under both wheels or one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from plant.section_file import choice
from plant.shapes import mound, on_side

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Hump:
    """One raised cosine; on one side only it is a single-wheel hit."""

    length: float = param(4.0, "m", 0.2, 100.0, "length from foot to foot")
    height: float = param(0.2, "m", -2.0, 2.0, "height of the crest, negative for a dip", said="mm")
    side: str = choice("both", ("both", "left", "right"), "which track")
    required = ("length", "height")

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Left and right heights."""
        return on_side(self.height * mound(along / self.length), self.side)

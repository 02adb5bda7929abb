"""Ledge: the ground steps up or down for good, over a short face."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from plant.section_file import choice
from plant.shapes import on_side, smooth_step

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Ledge:
    """A half cosine from level to level; positive is a step up, negative a drop-off."""

    height: float = param(0.1, "m", -2.0, 1.0, "change of level, up positive", said="mm")
    face: float = param(0.2, "m", 0.05, 10.0, "length of the face", said="mm")
    side: str = choice("both", ("both", "left", "right"), "which track")
    required = ("height",)

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Left and right heights."""
        return on_side(self.height * smooth_step(along / self.face), self.side)

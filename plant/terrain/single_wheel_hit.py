"""Single-wheel hit: a stone or a hole under the wheels of one side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from plant.section_file import choice
from plant.shapes import check_carried, mound, on_side, trapezoid

Array = NDArray[np.float64]


@dataclass(frozen=True)
class SingleWheelHit:
    """A bump where the height is positive, a hole where it is negative: a raised cosine, or square with straight faces."""

    side: str = choice("left", ("left", "right"), "which track")
    height: float = param(0.1, "m", -0.8, 0.8, "height of the bump, negative for the depth of a hole", said="mm")
    length: float = param(0.6, "m", 0.1, 10.0, "length from foot to foot, or from rim to rim", said="mm")
    shape: str = choice("round", ("round", "square"), "a raised cosine, or a level between two faces")
    face: float = param(0.05, "m", 0.02, 1.0, "length of each face of a square one", said="mm")
    required = ("side", "height", "length")

    def __post_init__(self) -> None:
        if self.shape == "square" and self.length < 2.0 * self.face:
            raise ValueError(f"length {1e3 * self.length:g} mm leaves no room for two faces of {1e3 * self.face:g} mm")

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Left and right heights."""
        if self.shape == "round":
            check_carried("length", self.length, along, 4)
            return on_side(self.height * mound(along / self.length), self.side)
        check_carried("face", self.face, along, 1)
        return on_side(self.height * trapezoid(along, self.face, self.length - 2.0 * self.face, self.face), self.side)

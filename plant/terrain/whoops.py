"""Whoops: a row of equal smooth mounds across both tracks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Whoops:
    """Raised cosines above the level ground, from trough to trough, so that height and slope are continuous at both ends."""

    pitch: float = param(6.0, "m", 1.0, 30.0, "crest-to-crest distance")
    height: float = param(0.4, "m", 0.02, 1.5, "height from trough to crest", said="mm")
    count: int = param(8, "1", 1, 200, "number of mounds")
    required = ("pitch", "height", "count")

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Left and right heights."""
        inside = np.clip(along, 0.0, self.count * self.pitch)
        both = 0.5 * self.height * (1.0 - np.cos(2.0 * np.pi * inside / self.pitch))
        return both, both.copy()

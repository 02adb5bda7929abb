"""Double whoops: mounds in pairs, one unlike the other, which no single rhythm of the vehicle suits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from plant.shapes import mound

Array = NDArray[np.float64]


@dataclass(frozen=True)
class DoubleWhoops:
    """Pairs of raised cosines, each trough to trough, of its own length and height; the right track may lag behind the left."""

    first_length: float = param(5.0, "m", 1.0, 30.0, "length of the first mound of a pair, trough to trough")
    first_height: float = param(0.35, "m", 0.02, 1.5, "height of the first mound of a pair", said="mm")
    second_length: float = param(3.5, "m", 1.0, 30.0, "length of the second mound of a pair, trough to trough")
    second_height: float = param(0.22, "m", 0.0, 1.5, "height of the second mound of a pair, 0 for level ground", said="mm")
    count: int = param(4, "1", 1, 100, "number of pairs")
    right_lag: float = param(0.0, "m", -15.0, 15.0, "distance by which the right track comes later, negative for the left", said="mm")
    required = ("first_length", "first_height", "second_length", "second_height", "count")

    @property
    def cycle(self) -> float:
        """Length of a pair. [m]"""
        return self.first_length + self.second_length

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Left and right heights."""
        return self._track(along - max(-self.right_lag, 0.0)), self._track(along - max(self.right_lag, 0.0))

    def _track(self, along: Array) -> Array:
        within = np.clip(along, 0.0, self.count * self.cycle) % self.cycle
        first = self.first_height * mound(within / self.first_length)
        return first + self.second_height * mound((within - self.first_length) / self.second_length)

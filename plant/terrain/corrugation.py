"""Corrugation: the washboard that traffic beats into loose ground, a sine over a stretch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from plant.shapes import smooth_window

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Corrugation:
    """Sine about the level ground, faded in and out; the right track may lag behind the left."""

    wavelength: float = param(0.8, "m", 0.2, 5.0, "crest-to-crest distance", said="mm")
    peak_to_peak: float = param(0.03, "m", 0.001, 0.2, "height from trough to crest", said="mm")
    length: float = param(40.0, "m", 1.0, 2000.0, "length of the stretch, fades included")
    fade: float = param(2.0, "m", 0.2, 50.0, "length of the smooth fade at both ends")
    right_lag: float = param(0.0, "rad", -np.pi, np.pi, "phase by which the right track comes later", said="deg")
    required = ("wavelength", "peak_to_peak", "length")

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Left and right heights."""
        envelope = 0.5 * self.peak_to_peak * smooth_window(along, self.length, self.fade)
        phase = 2.0 * np.pi * along / self.wavelength
        return envelope * np.sin(phase), envelope * np.sin(phase - self.right_lag)

"""Berm: a bank that builds up, holds round a corner and runs out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from plant.shapes import banked, smooth_plateau

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Berm:
    """The ground turns about the centre line: a positive bank lifts the right track, as wanted in a left-hand corner."""

    bank: float = param(0.2, "rad", -0.7, 0.7, "bank angle, right track up positive", said="deg")
    build_up: float = param(10.0, "m", 1.0, 100.0, "length over which the bank grows")
    hold: float = param(20.0, "m", 0.0, 1000.0, "length at full bank")
    run_out: float = param(10.0, "m", 1.0, 100.0, "length over which the bank goes away")
    track: float = param(1.5, "m", 0.3, 3.0, "distance between the wheel tracks")
    required = ("bank", "build_up", "hold", "run_out")

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Left and right heights."""
        return banked(self.bank * smooth_plateau(along, self.build_up, self.hold, self.run_out), self.track)

"""Shaft speed at which a wanted force is mapped to duty, for each side."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.cells import running_mean_square
from dualduty.contract import quantity
from dualduty.each_tick import each_tick
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class ReferenceSpeed:
    """Present shaft speed in each direction, or the running r.m.s. of it where that is more, never below a floor.

    A side that is not moving keeps the speed it lately had, so its valve stands ready before the stroke reverses. A stroke
    that comes out of rest counts at once: mapped at the mean of late, a landing would be met too firm by a quarter.

    Notes
    -----
    Floor 0.1 to 0.3 m/s and the use of a running r.m.s.: common practice, from memory.
    """

    time: float = param(0.25, "s", 0.02, 5.0, "integration time of the running r.m.s.", said="ms")
    floor: float = param(0.15, "m/s", 0.02, 1.0, "lowest reference speed")

    gives = (
        quantity("reference_speed_compression", "m/s", "speed at which compression force is mapped to duty"),
        quantity("reference_speed_rebound", "m/s", "speed at which rebound force is mapped to duty"),
    )

    def prepared(self, dt: float) -> dict[str, Any]:
        """Share of the mean per tick."""
        return {"recent": -np.expm1(-dt / np.asarray(self.time))}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Reference speeds, positive. [m/s]"""
        for corner in range(4):
            inward, outward = max(now.shaft_speed[corner], 0.0), max(-now.shaft_speed[corner], 0.0)
            lately_in = math.sqrt(running_mean_square(memory.compression[corner], inward, self.recent))
            lately_out = math.sqrt(running_mean_square(memory.rebound[corner], outward, self.recent))
            out.reference_speed_compression[corner] = max(lately_in, inward, self.floor)
            out.reference_speed_rebound[corner] = max(lately_out, outward, self.floor)

"""Shaft speed at which a wanted force is mapped to duty, for each side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dualduty.blocks import running_rms
from dualduty.contract import Array, Chunk, Memory, quantity
from dualduty.parameters import param


@dataclass(frozen=True)
class ReferenceSpeed:
    """Running r.m.s. of the shaft speed in each direction, never below a floor.

    A side that is not moving keeps the speed it lately had, so its valve stands ready before the stroke reverses.

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

    def run(self, now: Chunk, memory: Memory) -> dict[str, Array]:
        """Reference speeds (4, time, case), positive. [m/s]"""
        return {
            "reference_speed_compression": self._of(np.maximum(now.shaft_speed, 0.0), memory("compression")),
            "reference_speed_rebound": self._of(np.maximum(-now.shaft_speed, 0.0), memory("rebound")),
        }

    def _of(self, speed: Array, memory: Memory) -> Array:
        return np.maximum(running_rms(speed, self.time, memory), self.floor)

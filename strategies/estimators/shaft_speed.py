"""Shaft speed of each damper from its travel sensor."""

from __future__ import annotations

from dataclasses import dataclass

from dualduty.blocks import derivative
from dualduty.contract import Array, Chunk, Memory, quantity
from dualduty.parameters import param


@dataclass(frozen=True)
class ShaftSpeed:
    """Rate of change of shaft travel, positive in compression, smoothed by a first-order lag."""

    corner_hz: float = param(40.0, "Hz", 2.0, 200.0, "corner frequency of the smoothing")

    gives = (quantity("shaft_speed", "m/s", "shaft speed, compression positive"),)

    def run(self, now: Chunk, memory: Memory) -> dict[str, Array]:
        """Shaft speed (4, time, case). [m/s]"""
        return {"shaft_speed": derivative(now.shaft_travel, self.corner_hz, memory("rate"))}

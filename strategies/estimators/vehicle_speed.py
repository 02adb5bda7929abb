"""Forward speed from the four wheels, held where they can't be trusted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dualduty.blocks import keep_while, low_pass
from dualduty.contract import Array, Chunk, Memory, quantity
from dualduty.parameters import param


@dataclass(frozen=True)
class VehicleSpeed:
    """Mean of the two middle wheel speeds, smoothed; held in the air, where driven wheels run away."""

    corner_hz: float = param(3.0, "Hz", 0.2, 20.0, "corner frequency of the smoothing")

    gives = (quantity("vehicle_speed", "m/s", "forward speed", corners=1),)

    def run(self, now: Chunk, memory: Memory) -> dict[str, Array]:
        """Vehicle speed (1, time, case). [m/s]"""
        ordered = np.sort(now.wheel_speed, axis=0)
        middle = 0.5 * (ordered[1:2] + ordered[2:3])
        trusted = keep_while(middle, now.airborne_likely.active, memory("air"))
        return {"vehicle_speed": low_pass(trusted, self.corner_hz, memory("smooth"))}

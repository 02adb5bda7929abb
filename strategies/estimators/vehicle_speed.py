"""Forward speed from the four wheels, held where they can't be trusted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dualduty.blocks import keep_while, low_pass, slew_limit
from dualduty.contract import Array, Chunk, Memory, quantity
from dualduty.parameters import param


@dataclass(frozen=True)
class VehicleSpeed:
    """A middle wheel speed, rate-limited and smoothed; held in the air, where driven wheels run away.

    Of the two middle wheels the faster counts while braking, when wheels slip backward, the slower otherwise, when they
    may spin. The rate limits keep out what no vehicle on loose ground can do: an axle that locks or overspeeds together.
    """

    gain_limit: float = param(6.0, "m/s²", 1.0, 20.0, "largest believable gain of speed", said="g")
    loss_limit: float = param(9.0, "m/s²", 1.0, 20.0, "largest believable loss of speed", said="g")
    brake_on: float = param(0.05, "1", 0.0, 1.0, "brake demand from which wheels are expected to slip backward", said="pct")
    corner_hz: float = param(3.0, "Hz", 0.2, 20.0, "corner frequency of the smoothing")

    gives = (quantity("vehicle_speed", "m/s", "forward speed", corners=1),)

    def run(self, now: Chunk, memory: Memory) -> dict[str, Array]:
        """Vehicle speed (1, time, case). [m/s]"""
        ordered = np.sort(now.wheel_speed, axis=0)
        middle = np.where(now.brake > self.brake_on, ordered[2:3], ordered[1:2])
        limited = slew_limit(middle, self.gain_limit, self.loss_limit, memory("limit"))
        trusted = keep_while(limited, now.airborne_likely.active, memory("air"))
        return {"vehicle_speed": low_pass(trusted, self.corner_hz, memory("smooth"))}

"""Vertical speed of the body above each wheel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dualduty.blocks import leaky_integral
from dualduty.contract import Array, Chunk, Memory, quantity
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY


@dataclass(frozen=True)
class CornerSpeed:
    """Vertical body speed at the corners: leaky integral of the specific force, plus roll and pitch rates times the arms.

    Notes
    -----
    z_i = z + y_i roll - x_i pitch (small angles, ISO 8855). Gravity is taken off as a constant: tilt of 10 degrees errs
    by 1.5 % of g, which the leak bounds to 0.15 / (2 pi leak) m/s. The leak decides below which frequency it forgets.
    """

    leak_hz: float = param(0.35, "Hz", 0.05, 2.0, "frequency below which the integral forgets")
    corner_x: float = param(0.0, "m", -5.0, 5.0, "corner ahead of the centre of gravity", said="mm", by_corner=True, from_car="arm")
    corner_y: float = param(0.0, "m", -2.0, 2.0, "corner left of the centre of gravity", said="mm", by_corner=True, from_car="side")

    gives = (quantity("corner_speed", "m/s", "vertical speed of the body above each wheel, up positive"),)

    def run(self, now: Chunk, memory: Memory) -> dict[str, Array]:
        """Corner body speed (4, time, case). [m/s]"""
        heave_speed = leaky_integral(now.specific_force_z - STANDARD_GRAVITY, self.leak_hz, memory("heave"))
        turning = self.corner_y * now.roll_rate - self.corner_x * now.pitch_rate
        return {"corner_speed": heave_speed + turning + np.zeros((4, 1, 1))}

"""Vertical speed of each wheel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.contract import quantity
from dualduty.each_tick import each_tick
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class HubSpeed:
    """Vertical speed of each wheel: that of the body above it, plus the wheel's own in its arch.

    It has the slow errors of `CornerSpeed` and the noise of `ShaftSpeed` over the motion ratio.
    """

    motion_ratio: float = param(0.6, "1", 0.2, 1.5, "shaft travel per wheel travel", by_corner=True, from_car="motion_ratio")

    gives = (quantity("hub_speed", "m/s", "vertical speed of each wheel, up positive"),)

    def prepared(self, dt: float) -> dict[str, Any]:
        """Wheel speed per shaft speed."""
        return {"per_ratio": 1.0 / np.asarray(self.motion_ratio, float)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Hub speed. [m/s]"""
        for corner in range(4):
            out.hub_speed[corner] = now.corner_speed[corner] + now.shaft_speed[corner] * self.per_ratio[corner]

"""The strategy's own copy of the damper map, by corner; it may be wrong on purpose."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.car import Car
from dualduty.damper_map import DamperMap

Array = NDArray[np.float64]

FRONT: Final = slice(0, 2)
REAR: Final = slice(2, 4)


@dataclass(frozen=True)
class DemandMaps:
    """Force and duty of each side at all four corners: front map for the front pair, rear map for the rear pair."""

    front: dict[str, DamperMap]
    rear: dict[str, DamperMap]

    @classmethod
    def of(cls, car: Car) -> DemandMaps:
        """The nominal maps of a vehicle type."""
        return cls(
            {"compression": car.front_compression, "rebound": car.front_rebound},
            {"compression": car.rear_compression, "rebound": car.rear_rebound},
        )

    def force(self, side: str, speed: Array, duty: Array) -> Array:
        """Damper force, positive, at (4, time, case) shaft speeds [m/s, positive] and duties [1]. [N]"""
        out = np.empty(speed.shape)
        for maps, pair in ((self.front, FRONT), (self.rear, REAR)):
            maps[side].force_into(speed[pair], duty[pair], out[pair])
        return out

    def duty(self, side: str, speed: Array, force: Array) -> tuple[Array, Array]:
        """Duty that gives a wanted force, and 1 where the force lies outside the map.

        speed, force : (4, time, case) arrays
            Positive shaft speed [m/s] and wanted force [N].
        """
        out, clamped = np.empty(speed.shape), np.empty(speed.shape)
        for maps, pair in ((self.front, FRONT), (self.rear, REAR)):
            maps[side].duty_into(speed[pair], force[pair], out[pair], clamped[pair])
        return out, clamped

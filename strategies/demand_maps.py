"""The strategy's own copy of the damper map, by corner; it may be wrong on purpose."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from dualduty.car import Car
from numpy.typing import NDArray

from dualduty.damper_map import DamperMap

Array = NDArray[np.float64]


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
        return np.concatenate([self.front[side].force(speed[:2], duty[:2]), self.rear[side].force(speed[2:], duty[2:])])

    def duty(self, side: str, speed: Array, force: Array) -> tuple[Array, Array]:
        """Duty that gives a wanted force, and 1 where the force lies outside the map.

        speed, force : (4, time, case) arrays
            Positive shaft speed [m/s] and wanted force [N].
        """
        front, front_clamped = self.front[side].duty(speed[:2], force[:2])
        rear, rear_clamped = self.rear[side].duty(speed[2:], force[2:])
        return np.concatenate([front, rear]), np.concatenate([front_clamped, rear_clamped])

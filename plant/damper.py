"""The damper along the shaft: one map per side, a scatter per corner, and friction."""

from __future__ import annotations

from math import sqrt
from typing import Any

from numpy import float64
from numpy.typing import NDArray

from dualduty.damper_map import map_force
from dualduty.kernels import inline
from plant.rows import Number

Array = NDArray[float64]


@inline
def damper_force(case: Any, tables: Array, corner: int, speed: float, duty: Array) -> Number:
    """Force that resists the shaft, positive against compression. [N]

    `duty` holds the reached compression duties of the four corners, then the rebound duties; the sign of the shaft
    speed [m/s] picks the side, as the check valves do.
    """
    if speed >= 0.0:
        return case.compression_scale[corner] * map_force(tables, case.compression_map[corner], speed, duty[corner])
    return -case.rebound_scale[corner] * map_force(tables, case.rebound_map[corner], -speed, duty[4 + corner])


@inline
def friction_force(case: Any, corner: int, speed: float) -> Number:
    """Friction along the shaft, smoothed through standstill. [N]"""
    return case.friction[corner] * speed / sqrt(speed * speed + case.friction_speed * case.friction_speed)

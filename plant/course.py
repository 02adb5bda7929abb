"""A course: ground under the two wheel tracks and what the driver wants over it, on one distance grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Ground:
    """Heights of the left and right wheel track over distance on a uniform grid from distance 0; the ends are held.

    Front and rear wheels of a side run on the same line, the rear later by the wheelbase. A bank is left minus right.

    step : float
        Grid step. [m]
    left, right : (n,) arrays
        Heights, positive up. [m]
    """

    step: float
    left: Array
    right: Array


@dataclass(frozen=True)
class Drive:
    """What the driver wants over distance, on the same grid as the ground.

    start_speed : float
        Speed at distance 0. [m/s]
    speed : (n,) array
        Speed to keep. [m/s]
    curvature : (n,) array
        Path curvature, left positive. [1/m]
    brake, throttle : (n,) arrays
        Extra brake demand on top of speed keeping, and a floor under the throttle, 0..1. [1]
    """

    start_speed: float
    speed: Array
    curvature: Array
    brake: Array
    throttle: Array


@dataclass(frozen=True)
class Course:
    """One case for the plant; `duration` in seconds."""

    name: str
    ground: Ground
    drive: Drive
    duration: float

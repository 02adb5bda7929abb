"""A course: ground under the two wheel tracks and what the driver wants over it, on one distance grid."""

from __future__ import annotations

from dataclasses import dataclass, field

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
    steer : (n,) array
        Road-wheel angle added to what path keeping steers, left positive; zeros if not given. [rad]
    hold : (n,) array
        1 where the wheel is held open loop: path keeping is off and only `steer` counts; zeros if not given. [1]
    coast : (n,) array
        1 where speed keeping is off: only `brake` and `throttle` count, so that the pedals are released where those are 0; zeros if not
        given. [1]
    """

    start_speed: float
    speed: Array
    curvature: Array
    brake: Array
    throttle: Array
    steer: Array = field(default_factory=lambda: np.zeros(0))
    hold: Array = field(default_factory=lambda: np.zeros(0))
    coast: Array = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        for name in ("steer", "hold", "coast"):
            if getattr(self, name).size == 0:
                object.__setattr__(self, name, np.zeros_like(self.speed))


@dataclass(frozen=True)
class Course:
    """One case for the plant; `duration` in seconds."""

    name: str
    ground: Ground
    drive: Drive
    duration: float

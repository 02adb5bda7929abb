"""What a course asks of the tyres sideways, before anything is driven."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.units import STANDARD_GRAVITY
from plant.course import Course
from plant.envelope import contact_average

Array = NDArray[np.float64]

MOST: Final = 0.85  # the tyre's friction at its static load that a vehicle file has by default
_TRACK: Final = 1.5  # m between the wheel tracks, as banked grounds have it by default
_WHEELBASE: Final = 2.4  # m, a buggy's: what a held angle asks for without understeer
_SMOOTH: Final = 3.0  # m over which a bank is averaged, so that rough ground is none


def lateral_demand(course: Course) -> Array:
    """Friction that the wanted path, or a held steering angle, needs at the wanted speed and on the bank: an (n,) array, left positive. [1]

    Notes
    -----
    Turning on a bank that leans into the corner needs tan(arctan(a/g) - bank), from the balance of forces along and across the bank.
    """
    ground = course.ground
    leaning = np.arctan(contact_average(ground.right - ground.left, _SMOOTH, ground.step) / _TRACK)
    needed: Array = np.tan(np.arctan(course.drive.speed**2 * _turning(course) / STANDARD_GRAVITY) - leaning)
    return needed


def _turning(course: Course) -> Array:
    """Curvature of the path, or of the circle that a held wheel steers. [1/m]"""
    return np.where(course.drive.hold > 0.0, np.tan(course.drive.steer) / _WHEELBASE, course.drive.curvature)


def check_grip(course: Course) -> None:
    """ValueError where a turn asks for more than tyres on gravel hold."""
    demand = np.abs(lateral_demand(course)) * (_turning(course) != 0.0)
    worst = int(np.argmax(demand))
    if demand[worst] > MOST:
        where = f"at {course.ground.step * worst:.1f} m and {3.6 * course.drive.speed[worst]:.0f} km/h"
        raise ValueError(f"drive asks for {demand[worst]:.2f} g sideways {where}; expected at most {MOST:g}, the tyres' grip")

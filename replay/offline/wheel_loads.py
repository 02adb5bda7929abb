"""What each wheel of a recorded drive carried, seen afterwards: struts by the car's numbers, their sum by Newton's law."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.car import Car
from dualduty.signals import SIDES
from dualduty.units import STANDARD_GRAVITY

Array = NDArray[np.float64]

_SHARED: Final = 0.1  # of its static load: what a wheel that seems to carry nothing still takes of the correction


def wheel_loads(car: Car, travel: Array, hub: Array, total: Array, dt: float, duty: Mapping[str, Array] | None = None) -> Array:
    """Load of each wheel as a share of its static one.

    Parameters
    ----------
    car : Car
        Its masses, motion ratios, travels at rest and in flight, and damper maps.
    travel : (4, time) array
        Smoothed shaft travel. [m]
    hub : (4, time) array
        Specific force of each wheel, up. [m/s²]
    total : (time,) array
        What the ground carries of the car, as a share of its weight.
    dt : float
        [s]
    duty : dict of (4, time) arrays
        Applied duty by side; 0 where it isn't known. [1]

    Notes
    -----
    A spring is a straight line through two measured points: the travel in flight, where it carries nothing, and at rest, where it
    carries the wheel's static load less the wheel's own weight. Bars, friction, gas and stops are left out. What is then missing to the
    total, which needs none of them, goes to the wheels by what they carry.
    """
    ratio, mass, weight, hang, rest = (
        np.broadcast_to(np.asarray(values, float).reshape(-1, 1), (4, 1))
        for values in (car.motion_ratio, car.unsprung_mass, car.static_wheel_load, car.hang_travel, car.static_travel)
    )
    rate = (weight - mass * STANDARD_GRAVITY) / (ratio * (rest - hang))
    speed = np.gradient(travel, dt, axis=1) if travel.shape[1] > 1 else np.zeros_like(travel)
    shaft = rate * (travel - hang) + damper_force(car, speed, duty or {})
    loads = mass * hub + ratio * shaft
    missing = total * weight.sum() - loads.sum(axis=0)
    takes = np.abs(loads) + _SHARED * weight
    return np.asarray((loads + missing * takes / takes.sum(axis=0)) / weight)


def damper_force(car: Car, speed: Array, duty: Mapping[str, Array]) -> Array:
    """Force of each damper by the nominal maps, positive against compression, (4, time). [N]"""
    force = np.zeros_like(speed)
    for side, way in zip(SIDES, (1.0, -1.0), strict=True):
        moving = np.maximum(way * speed, 0.0)
        told = np.clip(duty[side], 0.0, 1.0) if side in duty else np.zeros_like(speed)
        for corner in range(4):
            one = car.damper_map(side, corner).force(moving[corner][None, :, None], told[corner][None, :, None])
            force[corner] += way * one[0, :, 0]
    return force

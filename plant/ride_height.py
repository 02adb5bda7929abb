"""What changes with the ride height when springs, masses or the place of the centre of gravity change; links stay as built."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from plant.equilibrium import rates_at, standing
from plant.packed import extended_ratio
from plant.rows import HEAVE, LOAD, TRAVEL
from plant.vehicle import Vehicle

Array = NDArray[np.float64]

_SAME_TRAVEL: Final = 5e-5  # m; numbers of a file are rounded, and its ride height is a balance of them
_SAME_LOAD: Final = 1.0  # N, likewise
_CLOSE: Final = 1e-10  # m
_ROUNDS: Final = 8  # a body that leans pulls with its height, which its stance gives; each round leaves a hundredth, measured
_NEWTON: Final = 30


def settled(vehicle: Vehicle) -> Vehicle:
    """The vehicle as it comes to stand, its static travels, wheel loads and motion ratios those of the new ride height.

    Its motion ratios must still belong to its static travels, as they did before springs or masses were changed: they say
    how the links are built. A vehicle that stands where its numbers say is given back as it is.
    """
    travel, load, height = _stance(vehicle)
    moved = np.abs(travel - vehicle.car.static_travel).max() > _SAME_TRAVEL
    if not moved and np.abs(load - vehicle.car.static_wheel_load).max() <= _SAME_LOAD:
        return vehicle
    for _ in range(_ROUNDS):
        before, vehicle = travel, vehicle.overlay(cg_height=height)
        travel, load, height = _stance(vehicle)
        if np.abs(travel - before).max() < _CLOSE:
            break
    return vehicle.overlay(static_travel=travel, static_wheel_load=load, motion_ratio=_ratio_at(vehicle, travel))


def _stance(vehicle: Vehicle) -> tuple[Array, Array, float]:
    """Shaft travels, wheel loads, (4,), and the height of the sprung mass's centre of gravity where the vehicle stands."""
    state = standing(vehicle)
    report = rates_at(vehicle, state[None])[1][0]
    return report[TRAVEL : TRAVEL + 4], report[LOAD : LOAD + 4], float(state[HEAVE])


def _ratio_at(vehicle: Vehicle, travel: Array) -> Array:
    """Motion ratio of the links as built at other shaft travels, (4,): Newton's method for the wheel travel. [1]"""
    extended, rise, bend = extended_ratio(vehicle), vehicle.motion_ratio_rise, vehicle.motion_ratio_bend
    wheel = travel / vehicle.car.motion_ratio
    for _ in range(_NEWTON):
        reached = wheel * (extended + 0.5 * rise * wheel + bend * wheel**2 / 6.0)
        wheel = wheel + (travel - reached) / (extended + rise * wheel + 0.5 * bend * wheel**2)
    return np.asarray(extended + rise * wheel + 0.5 * bend * wheel**2)

"""The driver's recipe: what is wanted over distance, from a few points, corners and zones."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from plant.course import Drive
from plant.section_file import choice
from plant.shapes import trapezoid

Array = NDArray[np.float64]

_FASTEST: Final = 60.0  # m/s, well above what a buggy reaches


@dataclass(frozen=True)
class SpeedPoint:
    """Wanted speed at a distance; between two points the wanted acceleration is constant."""

    at: float = param(0.0, "m", 0.0, 1e5, "distance of the point")
    speed: float = param(10.0, "m/s", 1.0, _FASTEST, "wanted speed", said="km/h")
    required = ("at", "speed")


@dataclass(frozen=True)
class Corner:
    """A constant-radius corner whose curvature grows and falls evenly with distance: clothoids at both ends."""

    start: float = param(20.0, "m", 0.0, 1e5, "where the curvature begins")
    radius: float = param(25.0, "m", 4.0, 1000.0, "radius of the path")
    entry: float = param(10.0, "m", 1.0, 200.0, "length over which the curvature grows")
    arc: float = param(30.0, "m", 0.0, 2000.0, "length at full curvature")
    exit: float = param(10.0, "m", 1.0, 200.0, "length over which the curvature falls")
    side: str = choice("left", ("left", "right"), "which way it turns")
    required = ("start", "radius", "entry", "arc", "exit", "side")

    def curvature(self, distance: Array) -> Array:
        """Curvature of the wanted path, left positive, over (n,) distances. [1/m]"""
        peak = (1.0 if self.side == "left" else -1.0) / self.radius
        return peak * trapezoid(distance - self.start, self.entry, self.arc, self.exit)


@dataclass(frozen=True)
class BrakeZone:
    """Brake demand beyond what speed keeping asks for, with straight ramps inside both ends."""

    start: float = param(30.0, "m", 0.0, 1e5, "where the demand begins")
    length: float = param(20.0, "m", 0.5, 1000.0, "length, ramps included")
    demand: float = param(0.4, "1", 0.0, 1.0, "extra brake demand, share of full", said="%")
    ramp: float = param(2.0, "m", 0.1, 100.0, "length of each ramp")
    required = ("start", "length", "demand")


@dataclass(frozen=True)
class ThrottleZone:
    """A floor under the throttle, with straight ramps inside both ends."""

    start: float = param(30.0, "m", 0.0, 1e5, "where the floor begins")
    length: float = param(20.0, "m", 0.5, 1000.0, "length, ramps included")
    floor: float = param(0.4, "1", 0.0, 1.0, "least throttle, share of full", said="%")
    ramp: float = param(2.0, "m", 0.1, 100.0, "length of each ramp")
    required = ("start", "length", "floor")


@dataclass(frozen=True)
class Recipe:
    """Start speed, wanted speed over distance, corners, brake zones and stretches with a throttle floor."""

    start_speed: float = param(10.0, "m/s", 0.0, _FASTEST, "speed at distance 0", said="km/h")
    speed: tuple[SpeedPoint, ...] = ()
    corner: tuple[Corner, ...] = ()
    brake: tuple[BrakeZone, ...] = ()
    throttle: tuple[ThrottleZone, ...] = ()
    required = ("start_speed",)

    def __post_init__(self) -> None:
        at = [point.at for point in self.speed]
        if any(later <= sooner for sooner, later in pairwise(at)):
            raise ValueError(f"speed points at {', '.join(f'{x:g}' for x in at)} m; expected rising distances")
        zones: tuple[BrakeZone | ThrottleZone, ...] = (*self.brake, *self.throttle)
        for zone in zones:
            if 2.0 * zone.ramp > zone.length:
                raise ValueError(f"a zone at {zone.start:g} m of {zone.length:g} m has no room for two ramps of {zone.ramp:g} m")

    def wanted_speed(self, distance: Array) -> Array:
        """Wanted speed over (n,) distances, held before the first and after the last point. [m/s]"""
        if not self.speed:
            return np.full(len(distance), max(self.start_speed, 1.0))
        squared = [point.speed**2 for point in self.speed]  # constant acceleration: v² is straight over distance
        return np.sqrt(np.interp(distance, [point.at for point in self.speed], squared))

    def distance_after(self, seconds: float) -> float:
        """Distance covered at the wanted speed. [m]"""
        fastest = max([self.start_speed, 1.0, *(point.speed for point in self.speed)])
        distance = np.linspace(0.0, fastest * seconds, 4001)
        speed = self.wanted_speed(distance)
        steps = 2.0 * np.diff(distance) / (speed[1:] + speed[:-1])  # exact while the acceleration is constant
        time = np.concatenate(([0.0], np.cumsum(steps)))
        return float(np.interp(seconds, time, distance))

    def drive(self, distance: Array) -> Drive:
        """The recipe on a distance grid, an (n,) array. [m]"""
        zero = np.zeros(len(distance))
        return Drive(
            start_speed=self.start_speed,
            speed=self.wanted_speed(distance),
            curvature=sum((corner.curvature(distance) for corner in self.corner), zero),
            brake=_strongest(distance, [(zone, zone.demand) for zone in self.brake]),
            throttle=_strongest(distance, [(zone, zone.floor) for zone in self.throttle]),
        )


def _strongest(distance: Array, zones: list[tuple[BrakeZone, float]] | list[tuple[ThrottleZone, float]]) -> Array:
    strongest = np.zeros(len(distance))
    for zone, size in zones:
        shape = trapezoid(distance - zone.start, zone.ramp, zone.length - 2.0 * zone.ramp, zone.ramp)
        strongest = np.maximum(strongest, size * shape)
    return strongest

"""The driver's recipe: what is wanted over distance, from a few points, corners and zones."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from plant.course import Drive
from plant.manoeuvres import LaneChange, Slalom, StepSteer
from plant.section_file import choice
from plant.shapes import trapezoid

Array = NDArray[np.float64]

_FASTEST: Final = 60.0  # m/s, well above what a buggy reaches
_TOUCH: Final = 1e-6  # m, the rounding of a length that ends where the next begins


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

    @property
    def end(self) -> float:
        """Distance at which the path is straight again. [m]"""
        return self.start + self.entry + self.arc + self.exit

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
class CoastZone:
    """Speed keeping is off: the pedals are released but for what brake and throttle zones ask for.

    The wanted speed then only says what the author expects: the length of the course follows from it.
    """

    start: float = param(30.0, "m", 0.0, 1e5, "where the driver stops keeping the speed")
    length: float = param(40.0, "m", 0.5, 1e5, "length of the stretch")
    required = ("start", "length")


class Steered(Protocol):
    """What has the steering wheel to itself from `start` to `end`."""

    @property
    def start(self) -> float:
        """[m]"""

    @property
    def end(self) -> float:
        """[m]"""


@dataclass(frozen=True)
class Recipe:
    """Start speed, wanted speed over distance, what is steered, and what the pedals do beyond keeping the speed."""

    start_speed: float = param(10.0, "m/s", 0.0, _FASTEST, "speed at distance 0", said="km/h")
    speed: tuple[SpeedPoint, ...] = ()
    corner: tuple[Corner, ...] = ()
    brake: tuple[BrakeZone, ...] = ()
    throttle: tuple[ThrottleZone, ...] = ()
    coast: tuple[CoastZone, ...] = ()
    slalom: tuple[Slalom, ...] = ()
    lane_change: tuple[LaneChange, ...] = ()
    step_steer: tuple[StepSteer, ...] = ()
    required = ("start_speed",)

    def __post_init__(self) -> None:
        _check_one_at_a_time((*self.corner, *self.slalom, *self.lane_change, *self.step_steer))
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

    def curvature(self, distance: Array) -> Array:
        """Curvature of the wanted path, left positive, over (n,) distances. [1/m]"""
        paths: tuple[Corner | Slalom | LaneChange, ...] = (*self.corner, *self.slalom, *self.lane_change)
        return sum((path.curvature(distance) for path in paths), np.zeros(len(distance)))

    def drive(self, distance: Array) -> Drive:
        """The recipe on a distance grid, an (n,) array. [m]"""
        zero = np.zeros(len(distance))
        speed = self.wanted_speed(distance)
        return Drive(
            start_speed=self.start_speed,
            speed=speed,
            curvature=self.curvature(distance),
            brake=_strongest(distance, [(zone, zone.demand) for zone in self.brake]),
            throttle=_strongest(distance, [(zone, zone.floor) for zone in self.throttle]),
            steer=sum((step.steer(distance, float(np.interp(step.start, distance, speed))) for step in self.step_steer), zero),
            hold=sum((step.hold(distance) for step in self.step_steer), zero),
            coast=np.max([zero, *(_inside(distance, zone) for zone in self.coast)], axis=0),
        )


def _check_one_at_a_time(steered: tuple[Steered, ...]) -> None:
    """ValueError where one begins before another has ended: their curvatures would add up to a path nobody meant."""
    for sooner, later in pairwise(sorted(steered, key=lambda one: one.start)):
        if later.start < sooner.end - _TOUCH:
            first, second = (type(one).__name__ for one in (sooner, later))
            wanted = f"expected {sooner.end:.4g} m or later, where the {first} of {sooner.start:g} m ends"
            raise ValueError(f"the {second} starts at {later.start:g} m; {wanted}")


def _inside(distance: Array, zone: CoastZone) -> Array:
    return ((distance >= zone.start) & (distance <= zone.start + zone.length)).astype(np.float64)


def _strongest(distance: Array, zones: list[tuple[BrakeZone, float]] | list[tuple[ThrottleZone, float]]) -> Array:
    strongest = np.zeros(len(distance))
    for zone, size in zones:
        shape = trapezoid(distance - zone.start, zone.ramp, zone.length - 2.0 * zone.ramp, zone.ramp)
        strongest = np.maximum(strongest, size * shape)
    return strongest

"""Manoeuvres known by their path or by their steering: slalom, lane change, step steer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from plant.section_file import choice

Array = NDArray[np.float64]

_SIDES: Final = ("left", "right")
_TRACE_STEP: Final = 0.01  # m, of the line from which a curvature is taken: 1e-5 of the peak for a 10 m change
_RAMP: Final = 1.25  # whole length of a straight ramp over its part from 10 to 90 %


def _sign(side: str) -> float:
    return 1.0 if side == "left" else -1.0


def _bend_free_step(share: Array) -> Array:
    """0 below 0, 1 above 1, and neither slope nor bend at both ends: 10 t³ - 15 t⁴ + 6 t⁵."""
    t = np.clip(share, 0.0, 1.0)
    return t**3 * (10.0 - t * (15.0 - 6.0 * t))


def _to_a_crest(share: Array) -> Array:
    """0 to 1 without slope at both ends, and with the bend of a cosine's crest, -pi², where it arrives."""
    t = np.clip(share, 0.0, 1.0)
    return _bend_free_step(t) - np.pi**2 * 0.5 * t**3 * (1.0 - t) ** 2


def traced(offset: Callable[[Array], Array], length: float) -> tuple[Array, Array]:
    """Distance driven and curvature, left positive, of a path that leaves a straight line to the left by `offset`.

    Parameters
    ----------
    offset : function of an (n,) array
        Offset over the distance along the straight line, level outside 0 and `length`. [m]
    length : float
        Where the path is straight again. [m]

    Returns
    -------
    driven, curvature : (n,) arrays
        [m], [1/m]
    """
    along: Array = np.linspace(0.0, length, int(np.ceil(length / _TRACE_STEP)) + 1)
    step = float(along[1])
    slope = np.gradient(offset(along), step)
    stretch = np.hypot(1.0, slope)
    driven = np.concatenate(([0.0], np.cumsum(0.5 * step * (stretch[1:] + stretch[:-1]))))
    return driven, np.gradient(slope, step) / stretch**3


class _Path:
    """A manoeuvre along a path of its own: from `start` on, `_traced` gives its curvature over the distance driven."""

    start: float

    def _traced(self) -> tuple[Array, Array]:
        raise NotImplementedError

    @property
    def end(self) -> float:
        """Distance at which the path is straight again. [m]"""
        return self.start + float(self._traced()[0][-1])

    def curvature(self, distance: Array) -> Array:
        """Curvature of the wanted path, left positive, over (n,) distances. [1/m]"""
        return np.interp(distance - self.start, *self._traced(), left=0.0, right=0.0)


@dataclass(frozen=True)
class Slalom(_Path):
    """A sinusoidal path round cones in a row; it swings out over the spacing before the first and in after the last."""

    start: float = param(20.0, "m", 0.0, 1e5, "where the path leaves the straight line, a spacing before the first cone")
    spacing: float = param(18.0, "m", 4.0, 200.0, "from cone to cone, half a wave of the path")
    amplitude: float = param(0.8, "m", 0.05, 5.0, "distance of the path from the row at each cone")
    count: int = param(5, "1", 1, 100, "cones")
    side: str = choice("left", _SIDES, "on which side the first cone is passed")
    required = ("start", "spacing", "amplitude", "count", "side")

    def _traced(self) -> tuple[Array, Array]:
        return traced(self._offset, (self.count + 1) * self.spacing)

    def _offset(self, along: Array) -> Array:
        share = along / self.spacing
        last = 1.0 if self.count % 2 else -1.0  # cones are passed in turns
        waves = np.where(share < self.count, -np.cos(np.pi * share), last * _to_a_crest(self.count + 1 - share))
        return _sign(self.side) * self.amplitude * np.where(share < 1.0, _to_a_crest(share), waves)


@dataclass(frozen=True)
class LaneChange(_Path):
    """Into the lane beside and back. The defaults are the lengths of a double lane change inspired by ISO 3888-1.

    Notes
    -----
    Lengths of ISO 3888-1, 15, 30, 25, 25 and 30 m, agree in three public codes. For the offset public codes disagree: 3.5 m from
    centre to centre in two, 1.0 m from edge to edge in one; 3.5 m is taken. The standard is for cars and gives gates, not a path: the
    path is ours, with a curvature that grows and falls smoothly.
    """

    start: float = param(10.0, "m", 0.0, 1e5, "where the first lane begins")
    first: float = param(15.0, "m", 1.0, 500.0, "length of the first lane")
    over: float = param(30.0, "m", 3.0, 500.0, "from the first lane to the one beside")
    beside: float = param(25.0, "m", 1.0, 500.0, "length of the lane beside")
    back: float = param(25.0, "m", 3.0, 500.0, "from the lane beside to the last")
    last: float = param(30.0, "m", 1.0, 500.0, "length of the last lane")
    offset: float = param(3.5, "m", 0.2, 20.0, "from the centre of the first lane to the one of the lane beside")
    reach: float = param(5.0, "m", 0.0, 100.0, "how far before the end of a lane the driver turns in, and straightens after its begin")
    side: str = choice("left", _SIDES, "where the lane beside lies")
    required = ("start", "side")

    def __post_init__(self) -> None:
        if self.reach > min(self.first, 0.5 * self.beside, self.last):
            raise ValueError(
                f"reach of {self.reach:g} m into the lanes; expected at most the first and the last one, and half the one beside"
            )

    def _traced(self) -> tuple[Array, Array]:
        return traced(self._offset, self.first + self.over + self.beside + self.back + self.reach)

    def _offset(self, along: Array) -> Array:
        out, back = self.first - self.reach, self.first + self.over + self.beside - self.reach
        there = _bend_free_step((along - out) / (self.over + 2.0 * self.reach))
        here = _bend_free_step((along - back) / (self.back + 2.0 * self.reach))
        return _sign(self.side) * self.offset * (there - here)


@dataclass(frozen=True)
class StepSteer:
    """The wheel is turned quickly and held, open loop; path keeping takes over after.

    Notes
    -----
    Inspired by ISO 7401:2011, clause 10; that its step shall rise from 10 to 90 % within 0.15 s is from memory, not verified.
    """

    start: float = param(20.0, "m", 0.0, 1e5, "where the wheel begins to turn")
    length: float = param(60.0, "m", 1.0, 2000.0, "over which the wheel is held, the rise included")
    angle: float = param(0.03, "rad", 0.001, 0.5, "road-wheel angle that is held", said="deg")
    rise: float = param(0.15, "s", 0.02, 5.0, "from 10 to 90 % of the angle, at the speed wanted at the start")
    side: str = choice("left", _SIDES, "which way it turns")
    required = ("start", "length", "angle", "side")

    @property
    def end(self) -> float:
        """Distance at which path keeping takes over. [m]"""
        return self.start + self.length

    def steer(self, distance: Array, speed: float) -> Array:
        """Road-wheel angle over (n,) distances for the speed wanted at the start [m/s], left positive. [rad]"""
        ramp = np.clip((distance - self.start) / (_RAMP * self.rise * speed), 0.0, 1.0)
        return _sign(self.side) * self.angle * ramp * self.hold(distance)

    def hold(self, distance: Array) -> Array:
        """1 where the wheel is held open loop, over (n,) distances. [1]"""
        return ((distance >= self.start) & (distance <= self.end)).astype(np.float64)

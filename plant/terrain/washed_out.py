"""Washed-out track: random ground cut by channels and holes at random places, of random depth, partly on one side only."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from plant.section_file import choice
from plant.shapes import check_carried, smooth_plateau
from plant.terrain.random_road import CLASS_DENSITY, RandomRoad

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Washout:
    """One channel or hole: start of its upper rim, length and depth on the left and on the right. [m]"""

    start: tuple[float, float]
    length: float
    depth: tuple[float, float]


@dataclass(frozen=True)
class WashedOut:
    """Ground of an ISO 8608 class with washouts: channels across both tracks, oblique and of unequal depth, and holes under one.

    Notes
    -----
    Each length and depth is drawn evenly between its two limits. The clear distance from one washout to the next is half
    `spacing` and an exponential number of that mean, so that none overlap. A channel is `deepest` at most on one side and
    at least half of that on the other. The sizes are invented; only the ground between them follows a standard: as a whole,
    class D with the default washouts reads as E or F by its own fit.
    """

    road_class: str = choice("D", tuple(CLASS_DENSITY), "class of ISO 8608 of the ground between, its geometric mean")
    length: float = param(60.0, "m", 10.0, 2000.0, "length of the stretch")
    spacing: float = param(7.0, "m", 0.5, 200.0, "mean clear distance between washouts")
    shallowest: float = param(0.06, "m", 0.0, 1.0, "least depth of a washout", said="mm")
    deepest: float = param(0.2, "m", 0.0, 1.5, "greatest depth of a washout", said="mm")
    shortest: float = param(0.6, "m", 0.2, 10.0, "least length of a washout from rim to rim", said="mm")
    longest: float = param(1.8, "m", 0.2, 20.0, "greatest length of a washout from rim to rim", said="mm")
    wall: float = param(0.2, "m", 0.05, 5.0, "length of each wall, a half cosine from rim to floor", said="mm")
    one_sided: float = param(0.35, "1", 0.0, 1.0, "share of washouts that are a hole under one side", said="%")
    oblique: float = param(0.4, "m", 0.0, 3.0, "most by which a channel reaches one track before the other", said="mm")
    track: float = param(1.5, "m", 0.3, 3.0, "distance between the wheel tracks, which sets the coherence of the ground")
    fade: float = param(3.0, "m", 0.2, 50.0, "length of the smooth fade at both ends, free of washouts")
    required = ("road_class", "length")

    def __post_init__(self) -> None:
        for low, high in (("shallowest", "deepest"), ("shortest", "longest")):
            if getattr(self, low) > getattr(self, high):
                raise ValueError(f"{low} {1e3 * getattr(self, low):g} mm is above {high} {1e3 * getattr(self, high):g} mm")
        if self.shortest < 2.0 * self.wall:
            raise ValueError(f"shortest {1e3 * self.shortest:g} mm leaves no room for two walls of {1e3 * self.wall:g} mm")
        if self.length < 2.0 * self.fade:
            raise ValueError(f"length {self.length:g} m leaves no room for two fades of {self.fade:g} m")

    def washouts(self, random: np.random.Generator) -> Iterator[Washout]:
        """The washouts in order of distance; the same numbers on every grid."""
        at = self.fade + random.exponential(0.5 * self.spacing)
        while True:
            length, depth = random.uniform(self.shortest, self.longest), random.uniform(self.shallowest, self.deepest)
            lag, less, alone, left_first = random.uniform(-self.oblique, self.oblique), random.uniform(0.5, 1.0), *random.random(2)
            if at + length + abs(lag) > self.length - self.fade:
                return
            other = 0.0 if alone < self.one_sided else less * depth
            sides = (depth, other) if left_first < 0.5 else (other, depth)  # noqa: PLR2004 - either side as often
            yield Washout((at + max(-lag, 0.0), at + max(lag, 0.0)), length, sides)
            at += length + abs(lag) + 0.5 * self.spacing + random.exponential(0.5 * self.spacing)

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Left and right heights."""
        check_carried("wall", self.wall, along, 1)
        cut = list(self.washouts(random))  # before the ground, whose count of random numbers depends on the grid
        ground = RandomRoad(self.road_class, track=self.track, length=self.length, fade=self.fade)
        left, right = ground.heights(along, random)
        return left - self._hollows(along, cut, 0), right - self._hollows(along, cut, 1)

    def _hollows(self, along: Array, cut: list[Washout], side: int) -> Array:
        depth = np.zeros_like(along)
        for one in cut:
            depth += one.depth[side] * smooth_plateau(along - one.start[side], self.wall, one.length - 2.0 * self.wall, self.wall)
        return depth

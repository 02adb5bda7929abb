"""Where a damper lived: time over shaft speed, force, travel and duty, and the energy it took, counted sample by sample."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.damper_map import DamperMap
from dualduty.signals import CORNERS, SIDES

Array = NDArray[np.float64]

SPEED_EDGES: Final = np.linspace(-6.0, 6.0, 241)  # m/s; what lies beyond counts in the last bins
FORCE_EDGES: Final = np.linspace(-20e3, 20e3, 321)  # N
TRAVEL_EDGES: Final = np.linspace(-0.05, 0.45, 101)  # m
DUTY_EDGES: Final = np.linspace(0.0, 1.0, 51)
RANGES: Final = (0.1, 0.5, 1.0, 2.0, 4.0)  # m/s, common practice: low, middle and high speed of off-road dampers, and impacts
Zone = tuple[Array, Array]  # rising travels [m] and multipliers [1]


@dataclass(frozen=True, eq=False)
class Dampers:
    """Force maps of both sides, four each, and position zones where there are any; `source` says whose they are."""

    maps: Mapping[str, tuple[DamperMap, ...]]
    zones: Mapping[str, tuple[Zone | None, ...]] = field(default_factory=dict)
    source: str = "damper map"

    def force(self, corner: int, travel: Array, speed: Array, duties: Array) -> Array:
        """Force at the shaft, positive against compression, NaN where a duty isn't known; without valve lag, friction, gas and heat.

        travel, speed : (time,) arrays
            [m], [m/s]
        duties : (2, time) array
            Compression and rebound. [1]
        """
        force = np.zeros(len(speed))
        for index, side in enumerate(SIDES):
            sign = 1.0 - 2.0 * index
            here = (sign * speed > 0.0) & np.isfinite(speed)
            at = sign * self.maps[side][corner].force(sign * speed[here][None, :, None], duties[index, here][None, :, None])[0, :, 0]
            zone = self.zones[side][corner] if side in self.zones else None
            at = at * (np.interp(travel[here], *zone) if zone else 1.0)
            force[here] = np.where(np.isnan(duties[index, here]), np.nan, at)
        return force


@dataclass(frozen=True, eq=False)
class CornerLife:
    """One damper over a window; times in seconds.

    seconds : float
        Time with a known speed.
    moving : (2,) array
        Of it in compression and in rebound.
    ranges : (2, 6) array
        Time in each range of speed between 0, `RANGES` and no end.
    beyond : (2,) array
        Time beyond the tested speeds of the map.
    energy, known : (2,) arrays
        Energy taken [J], and the time over which force was known.
    fastest : (2,) array
        Highest speed. [m/s]
    travel : (100,) array
        Time by travel, edges `TRAVEL_EDGES`.
    speed_force, speed_travel : (240, 320), (240, 100) arrays
        Time over speed and force, and over speed and travel.
    duty : (2, 50) array
        Time by duty of the side that moves, edges `DUTY_EDGES`.
    speed_noise : float
        R.m.s. of the speed that comes from noise in travel, NaN where not known. [m/s]
    """

    seconds: float
    moving: Array
    ranges: Array
    beyond: Array
    energy: Array
    known: Array
    fastest: Array
    travel: Array
    speed_force: Array
    speed_travel: Array
    duty: Array
    speed_noise: float

    @property
    def speed(self) -> Array:
        """Time by speed, (240,), edges `SPEED_EDGES`. [s]"""
        return np.asarray(self.speed_travel.sum(axis=1))

    @property
    def power(self) -> Array:
        """Mean power by side over the whole window, (2,): what warms the damper. NaN where force isn't known. [W]"""
        known = self.known.sum()
        return self.energy / known if known > 0.0 else np.full(2, np.nan)

    def duty_at(self, side: int, share: float) -> float:
        """Duty below which a side was for a share of the time it moved, NaN where it isn't known. [1]"""
        total = self.duty[side].sum()
        if total <= 0.0:
            return float("nan")
        summed = np.concatenate([[0.0], np.cumsum(self.duty[side])]) / total
        return float(np.interp(share, summed, DUTY_EDGES))


class CornerFold:
    """Counts one damper, stretch by stretch, at equal steps [s]."""

    def __init__(self, corner: int, dampers: Dampers) -> None:
        self._corner, self._dampers = corner, dampers
        self._ranges = np.zeros((2, len(RANGES) + 1))
        self._moving, self._beyond, self._energy, self._known, self._fastest = (np.zeros(2) for _ in range(5))
        self._force = np.zeros((len(SPEED_EDGES) - 1, len(FORCE_EDGES) - 1))
        self._travel = np.zeros((len(SPEED_EDGES) - 1, len(TRAVEL_EDGES) - 1))
        self._duty = np.zeros((2, len(DUTY_EDGES) - 1))
        self._seconds = 0.0
        self._noise: list[float] = []

    def take(self, motion: tuple[Array, Array], duties: Array, step: float, force: Array | None = None, noise: float = np.nan) -> None:
        """Count travel and speed (time,), NaN where not known; `force` (time,) is the damper's own where it is known otherwise [N]."""
        known = np.isfinite(motion[1]) & np.isfinite(motion[0])
        travel, speed, duties = motion[0][known], motion[1][known], duties[:, known]
        force = self._dampers.force(self._corner, travel, speed, duties) if force is None else force[known]
        self._seconds += step * len(speed)
        self._noise.append(noise)
        told = np.isfinite(force)
        self._travel += step * _counts(speed, travel, SPEED_EDGES, TRAVEL_EDGES)
        self._force += step * _counts(speed[told], force[told], SPEED_EDGES, FORCE_EDGES)
        for side, sign in enumerate((1.0, -1.0)):
            here = sign * speed > 0.0
            fast = sign * speed[here]
            self._moving[side] += step * len(fast)
            self._ranges[side] += step * np.bincount(np.searchsorted(RANGES, fast, side="right"), minlength=len(RANGES) + 1)
            self._beyond[side] += step * self._dampers.maps[SIDES[side]][self._corner].beyond(fast).sum()
            self._energy[side] += step * float((force * speed)[here & told].sum())
            self._known[side] += step * int((here & told).sum())
            self._fastest[side] = max(self._fastest[side], float(fast.max(initial=0.0)))
            own = duties[side, here]
            self._duty[side] += step * np.histogram(own[np.isfinite(own)], DUTY_EDGES)[0]

    def result(self, noise_gain: float = np.nan) -> CornerLife:
        """All counts; `noise_gain` turns noise in travel into noise in speed [1/s]."""
        noise = [one for one in self._noise if np.isfinite(one)]
        speed_noise = float(np.median(noise)) * noise_gain if noise else float("nan")
        return CornerLife(
            self._seconds, self._moving, self._ranges, self._beyond, self._energy, self._known, self._fastest,
            self._travel.sum(axis=0), self._force, self._travel, self._duty, speed_noise,
        )  # fmt: skip


def _counts(first: Array, second: Array, first_edges: Array, second_edges: Array) -> Array:
    """Samples by two quantities; what lies beyond the edges counts in the last bins."""
    x = np.clip(first, first_edges[0], first_edges[-1])
    y = np.clip(second, second_edges[0], second_edges[-1])
    return np.asarray(np.histogram2d(x, y, bins=[first_edges, second_edges])[0], float)


def range_names() -> list[str]:
    """Ranges of speed in words."""
    inner = [f"{low:g}-{high:g}" for low, high in pairwise(RANGES)]
    return [f"<{RANGES[0]:g}", *inner, f">{RANGES[-1]:g}"]


def folds(dampers: Dampers) -> list[CornerFold]:
    """One fold per corner."""
    return [CornerFold(corner, dampers) for corner in range(len(CORNERS))]

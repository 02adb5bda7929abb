"""Invented dampers for the tests of comparisons: maps of one axle with stated scatter, and a fault where one is planted."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.damper_map import DamperMap
from dualduty.dyno.sheet import Facts, Sheet
from dualduty.signals import CORNERS, SIDES

Array = NDArray[np.float64]
Change = Callable[[Array, Array], Array]  # of shaft speed (speed, 1) and duty (1, duty): factor on the forces

SPEEDS: Final = np.array([0.0, 0.05, 0.1, 0.2, 0.3, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0])
DUTIES: Final = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
REPEAT: Final = 0.008  # share; standard deviation of one reading
FACTS: Final = Facts(25.0, 12e5, "20 strokes", "sine", 0.28, 3, "compression positive", "2026-03-02", "invented", {})


def forces(axle: str, side: str) -> Array:
    """Nominal forces (speed, duty): digressive at the firm end, nearly linear at the soft one. [N]"""
    scale = {"front": 0.9, "rear": 1.0}[axle] * {"compression": 1.0, "rebound": 1.35}[side]
    speeds, duties = SPEEDS[:, None], DUTIES[None, :]
    return np.asarray(scale * ((500.0 + 900.0 * duties) * speeds + (150.0 + 3000.0 * duties) * np.tanh(speeds / 0.35)))


def no_change(speeds: Array, duties: Array) -> Array:
    """Nothing planted."""
    return np.ones(np.broadcast_shapes(speeds.shape, duties.shape))


def sheet(  # noqa: PLR0913 - a damper has as many traits
    serial: str, corner: str, *, vehicle: str = "marram 2", build: float = 0.0, seed: int = 0, compression: Change = no_change,
    rebound: Change = no_change, repeat: float = REPEAT,
) -> Sheet:  # fmt: skip
    """A damper whose sides each scatter by `build` (standard deviation, share) and whose readings scatter by `repeat`."""
    random = np.random.default_rng(seed)
    maps, spread = {}, {}
    for side, change in zip(SIDES, (compression, rebound), strict=True):
        plain = forces(corner.split("_", maxsplit=1)[0], side) * change(SPEEDS[:, None], DUTIES[None, :])
        read = plain * (1.0 + build * random.standard_normal()) * (1.0 + repeat * random.standard_normal(plain.shape) / math.sqrt(3))
        ordered = np.maximum.accumulate(np.maximum.accumulate(read, axis=0), axis=1)
        maps[side], spread[side] = DamperMap(SPEEDS, DUTIES, ordered, serial), repeat * plain
    return Sheet(
        Path(f"{serial}.csv"), serial, "MD-C", vehicle, corner, FACTS, 300.0, 500.0, 40.0, maps, {"compression": 0.06, "rebound": 0.05},
        {"compression": 0.01, "rebound": 0.01}, spread, {side: np.zeros(spread[side].shape) for side in SIDES}, [],
    )  # fmt: skip


def with_maps(base: Sheet, **maps: DamperMap) -> Sheet:
    """The same damper with other maps, and the spread that belongs to them."""
    spread = {side: REPEAT * each.forces for side, each in maps.items()}
    return replace(base, maps={**base.maps, **maps}, spread={**base.spread, **spread})


def cars(count: int, build: float, seed: int, compression: Change = no_change, rebound: Change = no_change) -> list[Sheet]:
    """All dampers of some cars; `compression` and `rebound` are planted into the last one, the rear-right of the last car."""
    found = []
    for place in range(4 * count):
        serial, corner = f"MD-{2100 + place}", CORNERS[place % 4]
        first, second = (compression, rebound) if place == 4 * count - 1 else (no_change, no_change)
        number = 1000 * seed + place
        vehicle = f"marram {place // 4 + 1}"
        found.append(sheet(serial, corner, vehicle=vehicle, build=build, seed=number, compression=first, rebound=second))
    return found


def weak_above_one(speeds: Array, duties: Array) -> Array:
    """12 % less force from 1 m/s up, at all duties."""
    return np.where(speeds >= 1.0, 0.88, 1.0) * np.ones_like(duties)

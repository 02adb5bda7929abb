"""Make the profile of the demo section `measured_track`: an invented survey of a rough track with ruts and a few stones.

Run as `python -m dualduty.trial.demo_profile FILE.csv`; the same seed gives the same file.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.files import write_text
from plant.shapes import mound
from plant.terrain.random_road import RandomRoad

Array = NDArray[np.float64]

SEED: Final = 30
LENGTH: Final = 90.0  # m
STEP: Final = 0.1  # m between points, give or take what a survey's wheel slips
_SLIP: Final = 0.1  # share of a step
_STONES: Final = (
    (22.0, 0.6, 0.06, 0.0),
    (38.5, 0.9, -0.09, -0.09),
    (47.0, 1.4, 0.0, -0.12),
    (60.0, 0.8, 0.07, 0.05),
)  # start, length, left, right
_HEAD: Final = "# Invented: no real place was surveyed. Perimeter track of Gorse Pit, a made-up quarry.\ndistance_m,left_mm,right_mm\n"


def demo_profile(seed: int = SEED) -> tuple[Array, Array, Array]:
    """Distances at uneven steps, and the heights of both tracks. [m]"""
    random = np.random.default_rng(seed)
    count = round(LENGTH / STEP)
    distance = np.concatenate(([0.0], np.cumsum(STEP * (1.0 + _SLIP * random.uniform(-1.0, 1.0, count)))))
    even: Array = 0.05 * np.arange(round(1.2 * LENGTH / 0.05), dtype=np.float64)
    tracks = RandomRoad("D", length=float(even[-1])).heights(even, random)
    slope = 0.6 * np.sin(2.0 * np.pi * even / 70.0)  # the lie of the land, which a survey finds too
    stones = [sum((one[2 + side] * mound((even - one[0]) / one[1]) for one in _STONES), np.zeros_like(even)) for side in (0, 1)]
    left, right = (np.interp(distance, even, track + slope + stone) for track, stone in zip(tracks, stones, strict=True))
    return distance, left, right


def profile_text(seed: int = SEED) -> str:
    """The file's text."""
    rows = zip(*demo_profile(seed), strict=True)
    return _HEAD + "".join(f"{distance:.3f},{1e3 * left:.1f},{1e3 * right:.1f}\n" for distance, left, right in rows)


if __name__ == "__main__":
    write_text(Path(sys.argv[1]), profile_text())

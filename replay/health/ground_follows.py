"""Which travel channel meets the ground after which: a rear wheel rolls over what the front wheel of its side rolled over."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from replay.health.motion import MOVING, filled, speed
from replay.health.slow_copy import RATE, SlowMotion

Array = NDArray[np.float64]
STEP: Final = 0.25  # m
LONGEST_WAVE: Final = 6.0  # m; longer ones lift both axles at once
LEAST_WAY: Final = 60.0  # m; less says nothing


def ground_follows(motion: SlowMotion, wheelbase: float) -> Array:
    """Correlation of each travel (row) with each other one wheelbase further on (column), (4, 4); zeros where it can't be told.

    Travels are laid over the way driven, so that the delay is the same at any speed.
    """
    found = np.zeros((4, 4))
    forward = speed(motion)
    way = np.cumsum(np.where(np.nan_to_num(forward) > MOVING, filled(forward), 0.0)) / RATE
    if not len(way) or way[-1] < LEAST_WAY:
        return found
    places = np.arange(way[0], way[-1], STEP)
    shift = max(round(wheelbase / STEP), 1)
    rolled = [_waves(np.interp(places, way, filled(travel))) for travel in motion.corners("shaft_travel")]
    for first in range(4):
        for later in range(4):
            found[first, later] = _alike(rolled[first][:-shift], rolled[later][shift:]) if first != later else 0.0
    return found


def _waves(travel: Array) -> Array:
    return travel - uniform_filter1d(travel, round(LONGEST_WAVE / STEP), mode="nearest")


def _alike(one: Array, other: Array) -> float:
    power = float(np.dot(one, one) * np.dot(other, other))
    return float(np.dot(one, other)) / power**0.5 if power > 0.0 else 0.0

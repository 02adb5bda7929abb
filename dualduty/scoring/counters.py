"""Counting what happens: hits on a threshold, and turns of a command."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import F8, IN1, IN3, OUT3, inline, kernel

if TYPE_CHECKING:
    from dualduty.scoring.reading import Reading

Array = NDArray[np.float64]


@inline
def _trap(value: float) -> float:
    """NaN for what is not a finite number, else 0: added up, it remembers."""
    return 0.0 if np.isfinite(value) else np.nan


@kernel(IN3, IN3, IN1, F8, F8, OUT3)
def _count_hits(values: Array, counts: Array, threshold: Array, release: float, quiet: float, kept: Array) -> None:
    """State: samples counted, hits, samples since it was last above the release level (negative: never was), NaN trap."""
    for corner in range(values.shape[0]):
        for sample in range(values.shape[1]):
            for case in range(values.shape[2]):
                if counts[corner, sample, case] > 0.0:
                    value = values[corner, sample, case]
                    kept[0, corner, case] += 1.0
                    kept[3, corner, case] += _trap(value)
                    since = kept[2, corner, case]
                    if value >= threshold[corner] and (since < 0.0 or since >= quiet):
                        kept[1, corner, case] += 1.0
                        kept[2, corner, case] = 0.0
                    elif value >= threshold[corner] - release and 0.0 <= since < quiet:
                        kept[2, corner, case] = 0.0
                    elif since >= 0.0:
                        kept[2, corner, case] = since + 1.0


class Hits:
    """How often a quantity came up to a threshold.

    A hit is counted when the threshold is reached after the quantity has stayed below `threshold - release` for
    `quiet` [s]. So a wheel hopping on the stop is one hit, and sensor noise at the threshold is none besides.

    threshold : (corner,) array
        [SI]
    release : float
        [SI]
    """

    too_little = ""

    def __init__(self, threshold: Array, release: float, quiet: float) -> None:
        self._threshold = np.ascontiguousarray(threshold, dtype=np.float64)
        self._release = release
        self._quiet = quiet
        self._kept = np.empty((4, 0, 0))

    def add(self, reading: Reading) -> None:
        """Take in the next samples."""
        if not self._kept.size:
            corners, _, cases = reading.values.shape
            self._kept = np.zeros((4, corners, cases))
            self._kept[2] = -1.0
        _count_hits(reading.values, reading.counts, self._threshold, self._release, round(self._quiet / reading.dt), self._kept)

    def figure(self) -> Array:
        """Number of hits."""
        return np.asarray(np.where((self._kept[0] > 0) & np.isfinite(self._kept[3]), self._kept[1], np.nan))

    def counted(self) -> Array:
        """Samples that counted."""
        return np.asarray(self._kept[0])


@kernel(IN3, IN3, F8, OUT3)
def _count_reversals(values: Array, counts: Array, hysteresis: float, kept: Array) -> None:
    """State: samples counted, reversals, direction (0 before the first move), highest and lowest since the last turn, NaN trap."""
    for corner in range(values.shape[0]):
        for sample in range(values.shape[1]):
            for case in range(values.shape[2]):
                if counts[corner, sample, case] > 0.0:
                    value = values[corner, sample, case]
                    kept[0, corner, case] += 1.0
                    kept[5, corner, case] += _trap(value)
                if counts[corner, sample, case] > 0.0 and kept[5, corner, case] == 0.0:
                    value = values[corner, sample, case]
                    high = max(kept[3, corner, case], value)
                    low = min(kept[4, corner, case], value)
                    way = kept[2, corner, case]
                    if way >= 0.0 and high - value > hysteresis:
                        kept[1, corner, case] += way
                        kept[2, corner, case] = -1.0
                        low = value
                        high = value
                    elif way <= 0.0 and value - low > hysteresis:
                        kept[1, corner, case] -= way
                        kept[2, corner, case] = 1.0
                        low = value
                        high = value
                    kept[3, corner, case] = high
                    kept[4, corner, case] = low


class Reversals:
    """Turns per second of a quantity, counted once it has gone back by more than `hysteresis` from its extreme."""

    too_little = ""

    def __init__(self, hysteresis: float) -> None:
        self._hysteresis = hysteresis
        self._kept = np.empty((6, 0, 0))
        self._dt = 0.0

    def add(self, reading: Reading) -> None:
        """Take in the next samples."""
        if not self._kept.size:
            corners, _, cases = reading.values.shape
            self._kept = np.zeros((6, corners, cases))
            self._kept[3], self._kept[4] = -np.inf, np.inf
        self._dt = reading.dt
        _count_reversals(reading.values, reading.counts, self._hysteresis, self._kept)

    def figure(self) -> Array:
        """Reversals per second. [1/s]"""
        with np.errstate(invalid="ignore", divide="ignore"):
            usable = (self._kept[0] > 0) & np.isfinite(self._kept[5])
            return np.asarray(np.where(usable, self._kept[1] / (self._kept[0] * self._dt), np.nan))

    def counted(self) -> Array:
        """Samples that counted."""
        return np.asarray(self._kept[0])

"""Many samples to one figure per corner and case: what every reducer does, and the moments most measures need."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import IN3, OUT3, kernel

if TYPE_CHECKING:
    from dualduty.scoring.reading import Reading

Array = NDArray[np.float64]


class Reducer(Protocol):
    """Takes readings in order; gives a figure per corner and case."""

    @property
    def too_little(self) -> str:
        """Why a finite run may still give no figure."""

    def add(self, reading: Reading) -> None:
        """Take in the next samples."""

    def figure(self) -> Array:
        """`(corner, case)`; NaN where there is no figure. [SI]"""

    def counted(self) -> Array:
        """Samples that counted, `(corner, case)`."""


@kernel(IN3, IN3, OUT3)
def _gather(values: Array, counts: Array, kept: Array) -> None:
    """Advance count, sum, sum of squares, of fourth powers, highest and lowest over a chunk."""
    for corner in range(values.shape[0]):
        for sample in range(values.shape[1]):
            for case in range(values.shape[2]):
                if counts[corner, sample, case] > 0.0:
                    value = values[corner, sample, case]
                    square = value * value
                    kept[0, corner, case] += 1.0
                    kept[1, corner, case] += value
                    kept[2, corner, case] += square
                    kept[3, corner, case] += square * square
                    kept[4, corner, case] = max(kept[4, corner, case], value)
                    kept[5, corner, case] = min(kept[5, corner, case], value)


class Moments:
    """Count, mean, powers and extremes of the samples that count; `choose` makes the figure out of them."""

    too_little = ""

    def __init__(self, choose: Callable[[Moments], Array]) -> None:
        self._choose = choose
        self._kept = np.empty((6, 0, 0))
        self.dt = 0.0

    def add(self, reading: Reading) -> None:
        """Take in the next samples."""
        if not self._kept.size:
            corners, _, cases = reading.values.shape
            self._kept = np.zeros((6, corners, cases))
            self._kept[4], self._kept[5] = -np.inf, np.inf
        self.dt = reading.dt
        _gather(reading.values, reading.counts, self._kept)

    def figure(self) -> Array:
        """The chosen figure; NaN without samples and after one that is not a number."""
        with np.errstate(invalid="ignore", divide="ignore"):
            usable = (self.counted() > 0) & np.isfinite(self._kept[3])
            return np.asarray(np.where(usable, self._choose(self), np.nan))

    def counted(self) -> Array:
        """Samples that counted."""
        return np.asarray(self._kept[0])

    def mean(self) -> Array:
        """Arithmetic mean."""
        return np.asarray(self._kept[1] / self._kept[0])

    def root_mean_square(self) -> Array:
        """Root of the mean square."""
        return np.asarray(np.sqrt(self._kept[2] / self._kept[0]))

    def deviation(self) -> Array:
        """Standard deviation about the mean."""
        return np.asarray(np.sqrt(np.maximum(self._kept[2] / self._kept[0] - self.mean() ** 2, 0.0)))

    def dose(self) -> Array:
        """Fourth root of the time integral of the fourth power."""
        return np.asarray((self._kept[3] * self.dt) ** 0.25)

    def highest(self) -> Array:
        """Largest value."""
        return np.asarray(self._kept[4])

    def peak(self) -> Array:
        """Largest magnitude."""
        return np.asarray(np.maximum(self._kept[4], -self._kept[5]))

    def span(self) -> Array:
        """Largest less smallest value."""
        return np.asarray(self._kept[4] - self._kept[5])

    def crest(self) -> Array:
        """Peak over root mean square."""
        return np.asarray(self.peak() / self.root_mean_square())

    def time(self) -> Array:
        """Time during which a 0/1 quantity was 1. [s]"""
        return np.asarray(self._kept[1] * self.dt)

"""The running r.m.s. at its worst, in a ring of the last second."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import IN3, OUT3, kernel

if TYPE_CHECKING:
    from dualduty.scoring.reading import Reading

Array = NDArray[np.float64]


@kernel(IN3, IN3, OUT3, OUT3)
def _slide(values: Array, counts: Array, ring: Array, kept: Array) -> None:
    """State: samples counted, sum of squares in the window, its largest value so far, place in the ring."""
    for corner in range(values.shape[0]):
        for sample in range(values.shape[1]):
            for case in range(values.shape[2]):
                if counts[corner, sample, case] > 0.0:
                    place = int(kept[3, corner, case])
                    square = values[corner, sample, case] ** 2
                    kept[0, corner, case] += 1.0
                    kept[1, corner, case] += square - ring[corner, place, case]
                    kept[2, corner, case] = max(kept[2, corner, case], kept[1, corner, case])
                    ring[corner, place, case] = square
                    kept[3, corner, case] = (place + 1) % ring.shape[1]


class WorstSecond:
    """Largest running r.m.s. over a linear window, still before the first sample; no figure for a shorter run."""

    def __init__(self, window: float = 1.0) -> None:
        self._window = window
        self._kept = np.empty((4, 0, 0))
        self._ring = np.empty((0, 0, 0))

    @property
    def too_little(self) -> str:
        """A run shorter than the window."""
        return f"shorter than the window of {self._window:g} s"

    def add(self, reading: Reading) -> None:
        """Take in the next samples."""
        if not self._kept.size:
            corners, _, cases = reading.values.shape
            self._kept = np.zeros((4, corners, cases))
            self._ring = np.zeros((corners, max(round(self._window / reading.dt), 1), cases))
        _slide(reading.values, reading.counts, self._ring, self._kept)

    def figure(self) -> Array:
        """Largest running root mean square."""
        full = (self._kept[0] >= self._ring.shape[1]) & np.isfinite(self._kept[1])
        return np.asarray(np.where(full, np.sqrt(self._kept[2] / max(self._ring.shape[1], 1)), np.nan))

    def counted(self) -> Array:
        """Samples that counted."""
        return np.asarray(self._kept[0])

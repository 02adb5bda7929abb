"""Which difference is more than chance: scatter of paired differences over repeat seeds, with all cells looked at allowed for.

References
----------
Paired t interval (Student 1908); Bonferroni's inequality for the number of cells: each cell is held to
`(1 - confidence) / cells`, so that a card without any true change shows a false one with at most `1 - confidence`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import inf, sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

Array = NDArray[np.float64]

CONFIDENCE: Final = 0.95
MOST_RUNS: Final = 1000


@dataclass(frozen=True)
class Scatter:
    """Standard deviation of single paired differences [SI of the measure], and its degrees of freedom."""

    deviation: float
    degrees: int

    @classmethod
    def of(cls, differences: Array) -> Scatter | None:
        """From the differences of one cell, `(run,)`; None for fewer than two."""
        return cls(float(np.std(differences, ddof=1)), differences.size - 1) if differences.size > 1 else None

    @classmethod
    def pooled(cls, parts: Iterable[Scatter]) -> Scatter | None:
        """From several cells taken to scatter alike: mean square weighted by degrees of freedom."""
        known = list(parts)
        degrees = sum(part.degrees for part in known)
        return cls(sqrt(sum(part.degrees * part.deviation**2 for part in known) / degrees), degrees) if degrees else None

    def half_width(self, runs: int, cells: int, confidence: float = CONFIDENCE) -> float:
        """Half-width of the interval round a mean of `runs` differences, one of `cells` cells looked at."""
        if self.deviation == 0.0:
            return 0.0
        return -float(stdtrit(self.degrees, (1 - confidence) / (2 * max(cells, 1)))) * self.deviation / sqrt(runs)

    def runs_to_see(self, difference: float, cells: int, confidence: float = CONFIDENCE) -> int:
        """Fewest runs whose half-width is no more than `difference`, if they scatter alike; `MOST_RUNS` when even that won't do."""
        for runs in range(2, MOST_RUNS):
            if Scatter(self.deviation, max(self.degrees, runs - 1)).half_width(runs, cells, confidence) <= difference:
                return runs
        return MOST_RUNS


@dataclass(frozen=True)
class NoiseBand:
    """Scatter known from elsewhere, or pooled over drive modes: by (section, measure name).

    Where a comparison has few seeds, pooling buys degrees of freedom for the assumption that the modes of a section
    scatter alike.
    """

    scatter: Mapping[tuple[str, str], Scatter]
    confidence: float = CONFIDENCE

    def find(self, section: str, measure: str) -> Scatter | None:
        """Scatter of a measure on a section; None when unknown."""
        return self.scatter.get((section, measure))


def band_of(matters: float, scatter: Scatter | None, runs: int, cells: int, confidence: float) -> tuple[float, float]:
    """Half-width by scatter (0 where it is unknown), and the band: the larger of it and what matters."""
    half_width = scatter.half_width(runs, cells, confidence) if scatter else 0.0
    return half_width, max(matters, half_width) if half_width < inf else inf

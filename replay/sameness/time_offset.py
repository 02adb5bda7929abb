"""How much later one recording of the same thing runs than another, found by cross-correlation stretch by stretch, and its drift."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LONGEST: Final = 0.5  # s; a log that is later by more than this was put together wrongly
STRETCH: Final = 5.0  # s
MOST_STRETCHES: Final = 200  # evenly thinned in a longer log: each costs some milliseconds
LEAST_MOVED: Final = 0.01  # standard deviation of a row below which it says nothing about time; one per cent of duty
LEAST_ALIKE: Final = 0.5  # correlation below which the best shift is an accident
LEAST_KNOWN: Final = 0.5  # share of a row that must have values
SURE_TICKS: Final = 3.0  # spread over the stretches up to which they are said to agree
FOR_DRIFT: Final = 4  # stretches


@dataclass(frozen=True)
class TimeOffset:
    """How much later the first recording runs than the second.

    `seconds` is the median over the stretches; `spread` their scatter (1.48 times the median deviation, which is the
    standard deviation of normal scatter); `drift` the change per second of time with its 95 % range, by Theil and Sen;
    `alike` the median correlation at the best shift; `stretches` how many could be used of how many `looked_at`.
    """

    seconds: float
    spread: float
    drift: float
    drift_range: tuple[float, float]
    middle: float
    alike: float
    stretches: int
    looked_at: int
    dt: float

    @property
    def certain(self) -> bool:
        """Three stretches or more that agree."""
        return self.stretches >= 3 and self.spread <= SURE_TICKS * self.dt  # noqa: PLR2004 - two can agree by chance

    @property
    def drifts(self) -> bool:
        """Whether a drift is told from none."""
        return not self.drift_range[0] <= 0.0 <= self.drift_range[1]

    def at(self, time: float) -> float:
        """Offset at a time, with the drift where there is one. [s]"""
        return self.seconds + (self.drift * (time - self.middle) if self.drifts else 0.0)

    def __str__(self) -> str:
        if not self.stretches:
            return f"time offset not found: no stretch of {STRETCH:g} s in which both move alike"
        sure = "stretches agree" if self.certain else "uncertain"
        of = f"{self.stretches} of {self.looked_at} stretches, spread {1e3 * self.spread:.1f} ms, correlation {self.alike:.2f}, {sure}"
        drift = f"; drifts by {6e4 * self.drift:+.2f} ms a minute" if self.drifts else ""
        return f"time offset {1e3 * self.seconds:+.1f} ms ({of}){drift}"


def lag_of(first: Array, second: Array, most: int) -> tuple[float, float]:
    """How many samples `first` is later than `second`, and how alike they are then.

    first, second : (row, time) arrays
        The same quantities, NaN where there is no value; rows that hardly move are passed over.
    most : int
        Longest lag looked at, in samples either way; `time` must be more than twice that.

    Returns
    -------
    lag, alike : float
        NaN and 0 where nothing moves, or where the best lag lies at the end of the range. The peak of the normalised
        cross-correlation (0 to 1) is placed between samples by a parabola through three of them.
    """
    rows = [row for row in range(len(first)) if _moves(first[row]) and _moves(second[row, most:-most])]
    if not rows:
        return np.nan, 0.0
    later, inner = _centred(first[rows]), _centred(second[rows, most:-most])
    alike = _correlation(later, inner)
    best = int(np.argmax(alike))
    if best in (0, len(alike) - 1):
        return np.nan, 0.0
    before, here, after = alike[best - 1 : best + 2]
    bend = before - 2.0 * here + after
    between = 0.5 * (before - after) / bend if bend < 0.0 else 0.0
    return best - most + float(between), float(here)


def _moves(row: Array) -> bool:
    known = row[np.isfinite(row)]
    return len(known) >= LEAST_KNOWN * len(row) and float(np.std(known)) >= LEAST_MOVED


def _centred(rows: Array) -> Array:
    """Rows less their means; nothing known counts as the mean."""
    centred = rows - np.nanmean(rows, axis=1, keepdims=True)
    return np.where(np.isnan(centred), 0.0, centred)


def _correlation(longer: Array, shorter: Array) -> Array:
    """Normalised cross-correlation of all rows together at every place of the shorter within the longer."""
    from scipy.signal import correlate

    width = shorter.shape[1]
    shared = sum(correlate(a, b, mode="valid", method="fft") for a, b in zip(longer, shorter, strict=True))
    around_mean = _sums(longer**2, width) - _sums(longer, width) ** 2 / width  # about the mean of just what the shorter lies over
    within = np.maximum(around_mean.sum(axis=0), 1e-12)
    return np.asarray(shared / np.sqrt(within * float((shorter**2).sum())))


def _sums(rows: Array, width: int) -> Array:
    """Sums over `width` consecutive samples at every place of (row, time)."""
    summed = np.cumsum(np.pad(rows, ((0, 0), (1, 0))), axis=1)
    return np.asarray(summed[:, width:] - summed[:, :-width])


class OffsetFinder:
    """Collects lags of consecutive stretches while two recordings go by tick by tick; memory doesn't grow with the log."""

    def __init__(self, dt: float, longest: float = LONGEST, stretch: float = STRETCH) -> None:
        self.dt = dt
        self._most = round(longest / dt)
        self._width = max(round(stretch / dt), 4 * self._most)
        self._held: tuple[Array, Array] | None = None
        self._start = 0
        self._every = 1
        self._count = 0
        self._found: list[tuple[float, float, float]] = []  # middle [s], lag [tick], how alike
        self._looked_at = 0

    def take(self, first: Array, second: Array) -> None:
        """Go on with (row, time) arrays of both."""
        held = (
            (first, second)
            if self._held is None
            else tuple(np.concatenate(p, axis=1) for p in zip(self._held, (first, second), strict=True))
        )
        while held[0].shape[1] >= self._width:
            self._look(held[0][:, : self._width], held[1][:, : self._width])
            held = (held[0][:, self._width :], held[1][:, self._width :])
            self._start += self._width
        self._held = (held[0].copy(), held[1].copy())

    def _look(self, first: Array, second: Array) -> None:
        self._count += 1
        if (self._count - 1) % self._every:
            return
        self._looked_at += 1
        lag, alike = lag_of(first, second, self._most)
        if alike >= LEAST_ALIKE:
            self._found.append(((self._start + 0.5 * self._width) * self.dt, lag, alike))
        if self._looked_at >= MOST_STRETCHES:
            self._thin()

    def _thin(self) -> None:
        self._found = self._found[::2]
        self._looked_at = (self._looked_at + 1) // 2
        self._every *= 2

    def result(self, expected_ticks: float = 0.0) -> TimeOffset:
        """The offset less the ticks by which the first is late by its nature (a duty applied one tick after it was asked for)."""
        held = self._held
        if not self._count and held is not None and held[0].shape[1] > 3 * self._most:
            self._look(*held)  # a short log is one stretch
        return offset_of(self._found, self._looked_at, self.dt, expected_ticks)


def offset_of(found: list[tuple[float, float, float]], looked_at: int, dt: float, expected_ticks: float = 0.0) -> TimeOffset:
    """Median, scatter and drift of the lags of stretches: middle [s], lag [tick] and how alike of each."""
    if not found:
        return TimeOffset(np.nan, np.nan, 0.0, (-np.inf, np.inf), np.nan, 0.0, 0, looked_at, dt)
    time, lag, alike = np.array(found).T
    offset = (lag - expected_ticks) * dt
    median = float(np.median(offset))
    drift, low, high = _drift(offset, time)
    moved = abs(drift) * float(np.ptp(time))
    if moved < dt:  # not a tick over the whole log: nothing that would be seen
        low, high = min(low, 0.0), max(high, 0.0)
    rest = offset - drift * (time - np.median(time)) if moved >= dt and low * high > 0.0 else offset
    spread = 1.4826 * float(np.median(np.abs(rest - np.median(rest))))
    return TimeOffset(median, spread, drift, (low, high), float(np.median(time)), float(np.median(alike)), len(found), looked_at, dt)


def _drift(offset: Array, time: Array) -> tuple[float, float, float]:
    if len(offset) < FOR_DRIFT or all(a == b for a, b in pairwise(offset)):
        return 0.0, -np.inf, np.inf
    from scipy.stats import theilslopes

    slope = theilslopes(offset, time, alpha=0.95)
    return float(slope.slope), float(slope.low_slope), float(slope.high_slope)

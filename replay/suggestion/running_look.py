"""What can be told of a channel and of a clock in one pass, in bounded memory: range, spread, smallest step, gaps, a strip to draw."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
KEPT: Final = 16_384  # samples kept for percentiles: every n-th, n doubling as the log goes on
BINS: Final = 240  # pairs of least and most of a strip, at least; at most twice as many
MOST_VALUES: Final = 16  # a channel with more distinct values has no list of them
GAP: Final = 2.5  # times the usual step; our choice: two samples lost in a row, jitter never
MOST_GAPS: Final = 1000
_ROUNDING: Final = 1e-9  # of the range; a smaller step is what is left of writing decimals in binary
_LONGEST_SPACING: Final = 1000


class Thinned:
    """Every n-th of all values, n doubled whenever the store is full: the same for any cut into blocks."""

    def __init__(self, room: int = KEPT) -> None:
        self._room = room
        self._every = 1
        self._seen = 0
        self._kept = np.empty(0)

    def see(self, values: Array) -> None:
        """Take in more values."""
        first = -self._seen % self._every
        self._kept = np.concatenate([self._kept, values[first :: self._every]])
        self._seen += len(values)
        while len(self._kept) > self._room:
            self._kept = self._kept[::2]
            self._every *= 2

    @property
    def kept(self) -> Array:
        """The values kept, in order: (sample,) array."""
        return self._kept


class Strip:
    """Least and most of equal stretches, the stretches doubled whenever there are too many."""

    def __init__(self) -> None:
        self._width = 1
        self._low = np.empty(0)
        self._high = np.empty(0)
        self._rest = np.empty(0)

    def see(self, values: Array) -> None:
        """Take in more samples; NaN where there is no value."""
        waiting = np.concatenate([self._rest, values])
        while len(waiting) >= self._width:
            count = min(len(waiting) // self._width, 2 * BINS - len(self._low))
            cells = waiting[: count * self._width].reshape(-1, self._width)
            waiting = waiting[count * self._width :]
            self._low = np.concatenate([self._low, _least(cells)])
            self._high = np.concatenate([self._high, -_least(-cells)])
            if len(self._low) == 2 * BINS:
                self._low, self._high = _least(self._low.reshape(-1, 2)), -_least(-self._high.reshape(-1, 2))
                self._width *= 2
        self._rest = waiting

    def drawn(self) -> tuple[Array, Array]:
        """Least and most of each stretch: two (stretch,) arrays, NaN where a stretch has no value."""
        if not len(self._rest):
            return self._low, self._high
        rest = self._rest[None]
        return np.concatenate([self._low, _least(rest)]), np.concatenate([self._high, -_least(-rest)])


class ChannelLook:
    """One channel, sample by sample."""

    def __init__(self) -> None:
        self.samples = 0
        self.valid = 0
        self.least = np.inf
        self.most = -np.inf
        self.step = np.inf
        self.strip = Strip()
        self.distinct: Array | None = np.empty(0)  # all distinct ones, None once there are many
        self._thinned = Thinned()
        self._spacing = np.zeros(_LONGEST_SPACING + 1, dtype=np.int64)
        self._last: Array = np.empty(0)
        self._last_at = -1

    def see(self, values: Array) -> None:
        """Take in more samples; NaN where there is no value."""
        finite = np.isfinite(values)
        whole = bool(finite.all())
        good = values if whole else values[finite]
        self.strip.see(values if whole else np.where(finite, values, np.nan))
        if len(good):
            self._spaced(np.array([self.samples]) if whole else np.flatnonzero(finite) + self.samples)
            self._run_on(len(values) - 1 if whole else 0)
            self._ranged(good)
        self.samples += len(values)
        self.valid += len(good)

    def percentile(self, share: float) -> float:
        """A percentile of the values, NaN where there is none."""
        kept = self._thinned.kept
        return float(np.percentile(kept, share)) if len(kept) else np.nan

    @property
    def spacing(self) -> int:
        """Usual distance between two values, in samples; a slow channel in a fast group leaves blanks between."""
        counted = np.cumsum(self._spacing)
        return int(np.searchsorted(counted, (counted[-1] + 1) / 2)) if counted[-1] else 1

    def _spaced(self, at: NDArray[np.int64]) -> None:
        distances = np.diff(at, prepend=self._last_at) if self._last_at >= 0 else np.diff(at)
        self._spacing += np.bincount(np.minimum(distances, _LONGEST_SPACING), minlength=_LONGEST_SPACING + 1)
        self._last_at = int(at[-1])

    def _run_on(self, samples: int) -> None:
        """So many more values without a blank between."""
        self._spacing[1] += samples
        self._last_at += samples

    def _ranged(self, good: Array) -> None:
        self.least, self.most = min(self.least, float(good.min())), max(self.most, float(good.max()))
        steps = np.abs(np.diff(np.concatenate([self._last, good])))
        steps = steps[steps > _ROUNDING * max(abs(self.least), abs(self.most))]
        self.step = min(self.step, float(steps.min())) if len(steps) else self.step
        self._last = good[-1:]
        self._thinned.see(good)
        if self.distinct is not None:
            known = np.unique(np.concatenate([self.distinct, good]))
            self.distinct = known if len(known) <= MOST_VALUES else None


class ClockLook:
    """The stamps of one group."""

    def __init__(self, factor: float = 1.0) -> None:
        self.first = self.last = np.nan
        self.back = 0
        self.repeated = 0
        self._factor = factor
        self._steps = Thinned()
        self._longest = np.empty(0)

    def see(self, stamps: Array) -> None:
        """Take in more stamps, in the recording's unit; those without a value are passed over."""
        seconds = stamps[np.isfinite(stamps)] * self._factor
        if not len(seconds):
            return
        steps = np.diff(seconds) if np.isnan(self.last) else np.diff(seconds, prepend=self.last)
        self.first = float(seconds[0]) if np.isnan(self.first) else self.first
        self.last = float(seconds[-1])
        self.back += int(np.count_nonzero(steps < 0.0))
        self.repeated += int(np.count_nonzero(steps == 0.0))
        self._steps.see(steps)
        self._longest = np.sort(np.concatenate([self._longest, steps]))[-MOST_GAPS:]

    @property
    def usual(self) -> float:
        """Usual step between stamps. [s]"""
        return float(np.median(self._steps.kept)) if len(self._steps.kept) else np.nan

    @property
    def gaps(self) -> Array:
        """Steps much longer than usual, longest last, at most MOST_GAPS: (gap,) array. [s]"""
        return self._longest[self._longest > GAP * self.usual]


def _least(cells: Array) -> Array:
    """Least of each row, NaN where a row has no value."""
    found: Array = np.fmin.reduce(cells, axis=1)
    return found

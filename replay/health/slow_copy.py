"""A slow copy of a log on one even clock, for the physics of the body: means of a fortieth of a second, brought to its middle.

It grows by 6 MB an hour with 17 channels; everything else the finders keep does not grow with the log.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numba import types
from numpy.typing import NDArray

from dualduty.kernels import F8, I8, IN1, IN2, kernel
from replay.health.channels import Channels

if TYPE_CHECKING:
    from replay.log import LogPart

Array = NDArray[np.float64]
Slow = NDArray[np.float32]
RATE: Final = 25.0  # Hz; heave, roll and pitch of a body lie below 4 Hz
KEPT: Final = (
    "shaft_travel", "specific_force_x", "specific_force_y", "specific_force_z", "roll_rate", "pitch_rate", "yaw_rate",
    "wheel_speed", "steer_angle", "brake", "throttle",
)  # fmt: skip
_PAGE: Final = 1 << 15  # bins; 22 minutes
_BRIDGED: Final = 0.2  # s; a longer hole stays a hole
ENOUGH: Final = 3600.0  # s of a long log that are looked at for what doesn't change
_PIECE: Final = 1500  # bins; a minute
LONGEST: Final = 24 * 3600.0  # s; what comes later is left out of the physics
_SLOW2 = types.Array(types.float32, 2, "C")


@kernel(IN1, IN2, types.Array(types.int64, 1, "C", readonly=True), I8, F8, _SLOW2, _SLOW2, _SLOW2)
def _gather(time, values, rows, first, rate, sums, late, counts):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202, PLR0913, PLR0917 - a kernel
    """Add samples to their bins: value, how long after the bin's middle, and how many; `first` is the bin of column 0."""
    for index in range(rows.shape[0]):
        if rows[index] < 0:
            continue
        for sample in range(time.shape[0]):
            value = values[index, sample]
            at = np.int64(np.floor(time[sample] * rate)) - first
            if value == value and 0 <= at < sums.shape[1]:  # noqa: PLR0124 - only NaN differs from itself
                sums[rows[index], at] += value
                late[rows[index], at] += time[sample] - (at + first + 0.5) / rate
                counts[rows[index], at] += 1.0


@dataclass
class SlowCopy:
    """Gathers parts of a log; `end` gives the copy. A page that all streams have passed is made even at once, to a third of its size."""

    channels: Channels

    def __post_init__(self) -> None:
        kept = [row.index for row in self.channels.rows.values() if row.signal.name in KEPT]
        self._place = {row: at for at, row in enumerate(sorted(kept))}
        self._pages: dict[int, tuple[Slow, Slow, Slow]] = {}
        self._even: dict[int, Slow] = {}
        self._latest = 0.0  # s
        self._reached = dict.fromkeys(self.channels.clocks, 0.0)  # by stream [s]

    def see(self, part: LogPart) -> None:
        """Take in the next part."""
        self._reached[part.stream] = (
            np.inf if part.ended else float(part.time[-1]) if len(part.time) else self._reached.get(part.stream, 0.0)
        )
        rows = np.array([self._place.get(int(row), -1) for row in part.rows], dtype=np.int64)
        if not len(part.time) or (rows < 0).all():
            return
        last = min(float(part.time[-1]), LONGEST)
        for page in range(max(int(part.time[0] * RATE) // _PAGE, 0), int(last * RATE) // _PAGE + 1):
            inside = slice(*np.searchsorted(part.time, [page * _PAGE / RATE, (page + 1) * _PAGE / RATE]).tolist())
            time, values = np.ascontiguousarray(part.time[inside]), np.ascontiguousarray(part.values[:, inside])
            _gather(time, values, rows, page * _PAGE, RATE, *self._page(page))
        self._latest = max(self._latest, last)
        passed = min(self._reached.values()) * RATE / _PAGE
        for page in [page for page in self._pages if page + 1 < passed]:
            self._close(page)

    def end(self) -> SlowMotion:
        """The copy, on an even clock."""
        for page in list(self._pages):
            self._close(page)
        bins = int(self._latest * RATE) + 1
        nothing = np.full((len(self._place), _PAGE), np.nan, dtype=np.float32)
        pages = [self._even.pop(page, nothing) for page in range((bins - 1) // _PAGE + 1)]
        return SlowMotion(self.channels, self._place, np.concatenate(pages, axis=1)[:, :bins])

    def _page(self, page: int) -> tuple[Slow, Slow, Slow]:
        if page not in self._pages:
            sums, late, counts = (np.zeros((len(self._place), _PAGE), dtype=np.float32) for _ in range(3))
            self._pages[page] = (sums, late, counts)
        return self._pages[page]

    def _close(self, page: int) -> None:
        """Bring the means of a page to the middles of its bins."""
        sums, late, counts = self._pages.pop(page)
        self._even[page] = np.stack([_made_even(*row) for row in zip(sums, late, counts, strict=True)])


def _made_even(sums: Slow, late: Slow, counts: Slow) -> Slow:
    """One row at the middles of its bins, straight lines over short holes, NaN in long ones."""
    held = np.flatnonzero(counts)
    out = np.full(len(sums), np.nan, dtype=np.float32)
    if not len(held):
        return out
    known = (held + 0.5) / RATE + late[held] / counts[held]
    middles = (np.arange(len(sums)) + 0.5) / RATE
    out[:] = np.interp(middles, known, sums[held] / counts[held])
    out[(middles < known[0] - _BRIDGED) | (middles > known[-1] + _BRIDGED)] = np.nan
    for place in np.flatnonzero(np.diff(known) > _BRIDGED).tolist():
        out[slice(*np.searchsorted(middles, [known[place], known[place + 1]]).tolist())] = np.nan
    return out


@dataclass(frozen=True)
class SlowMotion:
    """The slow copy: (bin,) arrays by signal and corner, NaN where the log has a hole; bin `n` is centred at `(n + 0.5) / RATE` s."""

    channels: Channels
    place: dict[int, int]
    copy: Slow

    @property
    def bins(self) -> int:
        """How many bins."""
        return int(self.copy.shape[1])

    def cut(self, first: int, last: int) -> SlowMotion:
        """Some of its bins, as a copy of their own."""
        return SlowMotion(self.channels, self.place, self.copy[:, first:last])

    def thinned(self) -> SlowMotion:
        """Of a long log, minutes spread evenly that make an hour: more says nothing more of what doesn't change."""
        pieces, wanted = self.bins // _PIECE, round(ENOUGH * RATE) // _PIECE
        if pieces <= 2 * wanted:
            return self
        starts = [index * pieces // wanted * _PIECE for index in range(wanted)]
        return SlowMotion(self.channels, self.place, np.concatenate([self.copy[:, at : at + _PIECE] for at in starts], axis=1))

    @property
    def time(self) -> Array:
        """Middles of the bins. [s]"""
        return np.asarray((np.arange(self.bins) + 0.5) / RATE, dtype=np.float64)

    def row(self, index: int) -> Array:
        """A row of the log's layout, (bin,); all NaN where the log hasn't got it."""
        at = self.place.get(index)
        return np.full(self.bins, np.nan) if at is None else self.copy[at].astype(np.float64)

    def one(self, name: str) -> Array:
        """A signal of the whole vehicle, (bin,)."""
        rows = self.channels.of(name)
        return self.row(rows[0].index) if rows else np.full(self.bins, np.nan)

    def corners(self, name: str) -> Array:
        """A signal by corner, (4, bin); NaN for a corner that the log hasn't got."""
        out = np.full((4, self.bins), np.nan)
        for row in self.channels.of(name):
            out[row.corner] = self.row(row.index)
        return out

    def has(self, name: str) -> bool:
        """Whether there is a value of a signal at all."""
        return any(bool(np.isfinite(self.copy[self.place[row.index]]).any()) for row in self.channels.of(name) if row.index in self.place)

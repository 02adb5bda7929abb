"""A log as the controller would have seen it: at each tick the last sample of each stream that had come, held until the next."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from replay.log import LogPart, Stream

Array = NDArray[np.float64]
SLACK: Final = 1e-6  # s; a sample stamped this little after a tick still counts: the rounding of printed stamps


@dataclass(frozen=True)
class Sensed:
    """Some consecutive ticks.

    start : int
        Index of the first tick; tick k lies k * dt after the log's first stamp.
    values : (row, tick) array
        Rows by the log's layout and, last, the drive mode; NaN where the controller had nothing to go by. [SI]
    done : float
        Share of the log up to here.
    """

    start: int
    values: Array
    done: float


def at_controller_rate(
    parts: Iterable[LogPart], dt: float, *, streams: Sequence[Stream], bridges: Array, longest_hold: float, chunk_ticks: int = 20_000
) -> Iterator[Sensed]:
    """Causal resampling to ticks of `dt`, in chunks of `chunk_ticks`; the result doesn't depend on how parts were cut.

    Parameters
    ----------
    streams : sequence of Stream
        Which rows come together; each ends with a part that says so.
    bridges : (row,) array
        How long a blank is filled with the row's last value, however old the newest sample; 0: the blank itself is what was seen. [s]
    longest_hold : float
        A sample older than this is nothing to go by: NaN until the next. [s]
    """
    if not (dt > 0 and chunk_ticks >= 1):
        raise ValueError(f"expected dt > 0 and chunk_ticks >= 1, came {dt} and {chunk_ticks}")
    holders = [_Holder(stream, dt, bridges[stream.rows], longest_hold, chunk_ticks) for stream in streams]
    chunks = _Chunks(holders, len(bridges), chunk_ticks)
    for part in parts:
        holders[part.stream].take(part)
        while any(not holder.done for holder in holders) and all(holder.done or holder.filled == chunk_ticks for holder in holders):
            yield chunks.next(chunk_ticks)
    ticks = int(np.floor((max((holder.end for holder in holders), default=-np.inf) + SLACK) / dt)) + 1 if holders else 0
    while chunks.start < ticks:
        yield chunks.next(min(chunk_ticks, ticks - chunks.start))


@dataclass
class _Chunks:
    """Puts together what the streams have filled."""

    holders: Sequence[_Holder]
    rows: int
    size: int
    start: int = 0

    def next(self, ticks: int) -> Sensed:
        """The next chunk of so many ticks."""
        values = np.full((self.rows, ticks), np.nan)
        for holder in self.holders:
            values[holder.rows] = holder.give(ticks)
        chunk = Sensed(self.start, values, min((holder.share for holder in self.holders), default=1.0))
        self.start += ticks
        return chunk


@dataclass
class _Holder:
    """One stream: what is carried from part to part, parts not used up yet, and the chunk being filled."""

    stream: Stream
    dt: float
    bridges: Array
    longest: float
    size: int
    filled: int = 0
    end: float = -np.inf  # when the last sample had come
    share: float = 0.0
    _ended: bool = False
    _tick: int = 0  # next tick to be filled
    _time: float = -np.inf
    _pending: list[LogPart] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.rows = self.stream.rows
        self._values = np.full(len(self.rows), np.nan)
        self._good = np.full((2, len(self.rows)), np.nan)  # time and value of the newest value of each row
        self._bridged = [(index, float(self.bridges[index])) for index in np.flatnonzero(self.bridges > 0).tolist()]
        self._newest: dict[int, NDArray[np.intp]] = {}
        self._out = np.empty((len(self.rows), self.size))

    @property
    def done(self) -> bool:
        """True when no sample will change a tick any more."""
        return self._ended and not self._pending

    def take(self, part: LogPart) -> None:
        """Take in the next part of this stream, and fill what can be filled."""
        self._ended = self._ended or part.ended
        self.share = part.done
        if len(part.time):
            self._pending.append(part)
            self.end = max(self.end, float(part.time[-1]))
        self._advance()

    def give(self, ticks: int) -> Array:
        """The first ticks of the chunk; past the stream's end its last sample is held as long as it may be."""
        while self.filled < ticks:
            self._fill(self._limits(ticks - self.filled), None)
        given = self._out[:, :ticks].copy() if ticks < self.size else self._out
        self._out = np.empty((len(self.rows), self.size))
        self.filled = 0
        self._advance()
        return given

    def _advance(self) -> None:
        """Fill every tick that no later sample can change, up to the end of the chunk."""
        while self._pending and self.filled < self.size:
            part = self._pending[0]
            newest = float(part.time[-1])
            room = min(self.size - self.filled, max(0, int((newest - self._tick * self.dt) / self.dt) + 2))
            limits = self._limits(room)
            limits = limits[: np.searchsorted(limits, newest, side="right")]
            if len(limits):
                self._fill(limits, part)
            if self.filled < self.size:
                self._carry(part)

    def _limits(self, ticks: int) -> Array:
        """Latest times that count at the next ticks."""
        return np.arange(self._tick, self._tick + ticks, dtype=np.float64) * self.dt + SLACK

    def _fill(self, limits: Array, part: LogPart | None) -> None:
        out = self._out[:, self.filled : self.filled + len(limits)]
        index = np.searchsorted(part.time, limits, side="right") - 1 if part else np.full(len(limits), -1)
        carried = int(np.searchsorted(index, 0))  # these ticks come before the part's first sample
        out[:, :carried] = self._values[:, None]
        age = np.empty(len(limits))
        age[:carried] = limits[:carried] - self._time
        if part is not None and carried < len(index):
            _gather(part, index[carried:], out[:, carried:])
            age[carried:] = limits[carried:] - part.time[index[carried:]]
        if age.max() > self.longest + SLACK:
            out[:, age > self.longest + SLACK] = np.nan
        for at, bridge in self._bridged:
            self._bridge(out[at], (at, bridge), index, limits, part)
        self._tick += len(limits)
        self.filled += len(limits)

    def _bridge(self, out: Array, row: tuple[int, float], index: NDArray[np.intp], limits: Array, part: LogPart | None) -> None:
        """Hold the newest value of a row, however many blanks came since, up to its bridge."""
        at, bridge = row
        time, value = np.full(len(limits), self._good[0, at]), np.full(len(limits), self._good[1, at])
        if part is not None:
            last = np.where(index >= 0, self._newest_value(part, at)[np.maximum(index, 0)], -1)
            inside = last >= 0
            time[inside], value[inside] = part.time[last[inside]], part.values[at, last[inside]]
        out[:] = np.where(limits - time <= bridge + SLACK, value, np.nan)

    def _newest_value(self, part: LogPart, at: int) -> NDArray[np.intp]:
        """Index of the newest value at each sample of the part in hand, -1 before the first."""
        if at not in self._newest:
            self._newest[at] = np.maximum.accumulate(np.where(np.isnan(part.values[at]), -1, np.arange(len(part.time))))
        return self._newest[at]

    def _carry(self, part: LogPart) -> None:
        self._time = float(part.time[-1])
        self._values = part.values[:, -1].copy()
        for at, _ in self._bridged:
            last = int(self._newest_value(part, at)[-1])
            if last >= 0:
                self._good[:, at] = part.time[last], part.values[at, last]
        self._newest.clear()
        self._pending.pop(0)


def _gather(part: LogPart, index: NDArray[np.intp], out: Array) -> None:
    first, last = int(index[0]), int(index[-1])
    if last - first == len(index) - 1 and (index == np.arange(first, last + 1)).all():  # one sample a tick: a plain copy
        out[:] = part.values[:, first : last + 1]
    else:
        for row, values in zip(out, part.values, strict=True):
            np.take(values, index, out=row, mode="clip")  # a third of the time of part.values[:, index]

"""A log as the controller would have seen it: at each tick the last sample that had come, held until the next."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from replay.log import LogPart

Array = NDArray[np.float64]
SLACK: Final = 1e-6  # s; a sample stamped this little after a tick still counts: the rounding of printed stamps


@dataclass(frozen=True)
class Sensed:
    """Some consecutive ticks.

    start : int
        Index of the first tick; tick k lies k * dt after the log's first stamp.
    values : (row, tick) array
        Rows by the log's layout, NaN where the controller had nothing to go by. [SI]
    mode : (tick,) int16 array
        Index into the log's mode names.
    done : float
        Share of the log up to here.
    """

    start: int
    values: Array
    mode: NDArray[np.int16]
    done: float


def at_controller_rate(
    parts: Iterable[LogPart], dt: float, *, bridges: Array, longest_hold: float, chunk_ticks: int = 20_000
) -> Iterator[Sensed]:
    """Causal resampling to ticks of `dt`, in chunks of `chunk_ticks`; the result doesn't depend on how parts were cut.

    Parameters
    ----------
    bridges : (row,) array
        How long a blank is filled with the row's last value; 0: the blank itself is what was seen. [s]
    longest_hold : float
        A sample older than this is nothing to go by: NaN until the next. [s]
    """
    if not (dt > 0 and chunk_ticks >= 1):
        raise ValueError(f"expected dt > 0 and chunk_ticks >= 1, came {dt} and {chunk_ticks}")
    holder = _Holder(dt, bridges, longest_hold, chunk_ticks)
    for part in parts:
        if len(part.time):
            yield from holder.push(part)
    yield from holder.finish()


class _Holder:
    """What is carried from part to part: the newest sample, the newest value of bridged rows, and the chunk being filled."""

    def __init__(self, dt: float, bridges: Array, longest_hold: float, chunk_ticks: int) -> None:
        self._dt = dt
        self._longest = longest_hold
        self._size = chunk_ticks
        self._bridged = [(int(row), float(bridges[row])) for row in np.flatnonzero(bridges > 0)]
        self._tick = 0  # next tick to be filled
        self._time = -np.inf
        self._values = np.full(len(bridges), np.nan)
        self._mode = np.int16(0)
        self._good = np.full((2, len(bridges)), np.nan)  # time and value of the newest value, for bridged rows
        self._done = 0.0
        self._begin()

    def _begin(self) -> None:
        self._start = self._tick
        self._out = np.empty((len(self._values), self._size))
        self._modes = np.empty(self._size, dtype=np.int16)

    def push(self, part: LogPart) -> Iterator[Sensed]:
        """Fill every tick that no later sample can change."""
        newest = float(part.time[-1])
        while True:
            limits = self._limits(newest)
            limits = limits[: np.searchsorted(limits, newest, side="right")]
            if not len(limits):
                break
            self._fill(limits, part)
            if self._tick - self._start == self._size:
                yield self._full()
        self._carry(part)

    def finish(self) -> Iterator[Sensed]:
        """Fill the ticks up to the last sample, which is all they have seen."""
        while self._time > -np.inf:
            limits = self._limits(self._time)
            limits = limits[: np.searchsorted(limits, self._time + 2 * SLACK, side="right")]
            if not len(limits):
                break
            self._fill(limits, None)
            if self._tick - self._start == self._size:
                yield self._full()
        if self._tick > self._start:
            yield self._full()

    def _limits(self, newest: float) -> Array:
        """Latest stamps that count at the next ticks: at most what the chunk still takes."""
        room = self._size - (self._tick - self._start)
        wanted = min(room, max(0, int((newest - self._tick * self._dt) / self._dt) + 2))
        return np.arange(self._tick, self._tick + wanted, dtype=np.float64) * self._dt + SLACK

    def _fill(self, limits: Array, part: LogPart | None) -> None:
        begin = self._tick - self._start
        end = begin + len(limits)
        out, modes = self._out[:, begin:end], self._modes[begin:end]
        index = np.searchsorted(part.time, limits, side="right") - 1 if part else np.full(len(limits), -1)
        carried = int(np.searchsorted(index, 0))  # these ticks come before the part's first sample
        out[:, :carried] = self._values[:, None]
        modes[:carried] = self._mode
        age = np.empty(len(limits))
        age[:carried] = limits[:carried] - self._time
        if part is not None and carried < len(index):
            _gather(part, index[carried:], out[:, carried:], modes[carried:])
            age[carried:] = limits[carried:] - part.time[index[carried:]]
        if age.max() > self._longest + SLACK:
            out[:, age > self._longest + SLACK] = np.nan
        for row, bridge in self._bridged:
            self._bridge(out[row], (row, bridge), index, limits, part)
        self._tick += len(limits)

    def _bridge(self, out: Array, row: tuple[int, float], index: NDArray[np.intp], limits: Array, part: LogPart | None) -> None:
        """Hold the newest value of a row, however many blanks came since, up to its bridge."""
        at, bridge = row
        time, value = np.full(len(limits), self._good[0, at]), np.full(len(limits), self._good[1, at])
        if part is not None:
            newest = np.maximum.accumulate(np.where(np.isnan(part.values[at]), -1, np.arange(len(part.time))))
            last = np.where(index >= 0, newest[np.maximum(index, 0)], -1)
            inside = last >= 0
            time[inside], value[inside] = part.time[last[inside]], part.values[at, last[inside]]
        out[:] = np.where(limits - time <= bridge + SLACK, value, np.nan)

    def _carry(self, part: LogPart) -> None:
        self._time = float(part.time[-1])
        self._values = part.values[:, -1].copy()
        self._mode = part.mode[-1]
        self._done = part.done
        for row, _ in self._bridged:
            held = np.flatnonzero(~np.isnan(part.values[row]))
            if len(held):
                self._good[:, row] = part.time[held[-1]], part.values[row, held[-1]]

    def _full(self) -> Sensed:
        count = self._tick - self._start
        whole = count == self._size
        chunk = Sensed(self._start, self._out if whole else self._out[:, :count].copy(), self._modes[:count], self._done)
        self._begin()
        return chunk


def _gather(part: LogPart, index: NDArray[np.intp], out: Array, modes: NDArray[np.int16]) -> None:
    first, last = int(index[0]), int(index[-1])
    if last - first == len(index) - 1 and (index == np.arange(first, last + 1)).all():  # one sample a tick: a plain copy
        out[:] = part.values[:, first : last + 1]
        modes[:] = part.mode[first : last + 1]
    else:
        out[:] = part.values[:, index]
        modes[:] = part.mode[index]

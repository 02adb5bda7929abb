"""Channels that are scored, at their own rate beside the ticks: what was recorded, not what the controller made of it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.trace import RawRows
from replay.log import Log, LogPart
from replay.merge import in_order

Array = NDArray[np.float64]
SCORED: Final = ("shaft_travel", "seat_specific_force_z")
_ON: Final = 1e-6  # of a step: on the grid, for all that rounding does
_ENOUGH: Final = 1000  # samples that say what a usual step is
LONGEST_STEPS: Final = 2.5  # samples further apart than so many usual steps are not joined


class RawBeside:
    """Listens to the parts of a log on their way to the controller, and hands out even samples chunk by chunk.

    Samples are laid on a grid of the stream's usual step by straight lines between neighbours: jitter of the stamps goes, no
    sample is smoothed that lies on the grid. How parts and chunks are cut changes no value.
    """

    def __init__(self, log: Log, names: Iterable[str] = SCORED) -> None:
        self._log = log
        self._listening = [one for name in names for one in _streams_of(log, name)]
        steps = usual_steps(log, {one.stream for one in self._listening})
        for one in self._listening:
            one.step = steps.get(one.stream, 0.0)

    def listen(self, parts: Iterable[LogPart]) -> Iterator[LogPart]:
        """The same parts, heard on the way."""
        for part in parts:
            for one in self._listening:
                one.take(part, self._log.streams[part.stream].latency)
            yield part

    def upto(self, start: int, ticks: int, dt: float) -> dict[str, RawRows]:
        """Samples that have come and lie before the end of a chunk, by signal; each is given once."""
        return {one.name: one.give(start, ticks, dt) for one in self._listening if one.step > 0}


def _streams_of(log: Log, name: str) -> Iterator[_Listener]:
    """The stream that holds all corners of a signal; none where they are spread over several, or one is not logged."""
    rows = log.layout.rows.get(name)
    if rows is None or not log.has(name):
        return
    wanted = list(range(rows.start, rows.stop))
    for stream in log.streams:
        held = stream.rows.tolist()
        if all(row in held for row in wanted):
            yield _Listener(name, stream.index, [held.index(row) for row in wanted])


class _Listener:
    """One signal: samples not handed out yet, and the next point of the grid."""

    def __init__(self, name: str, stream: int, at: list[int]) -> None:
        self.name = name
        self.step = 0.0
        self.stream = stream
        self._at = at
        self._next = -1
        self._time = np.empty(0)
        self._values = np.empty((len(at), 0))
        self._ended = False

    def take(self, part: LogPart, latency: float) -> None:
        """Keep what belongs to this signal."""
        if part.stream != self.stream:
            return
        self._ended = self._ended or part.ended
        if not len(part.time) or not self.step:
            return
        time = part.time - latency
        if self._next < 0:
            self._next = max(int(np.ceil(time[0] / self.step - _ON)), 0)
        self._time = np.concatenate([self._time, time])
        self._values = np.concatenate([self._values, part.values[self._at]], axis=1)

    def give(self, start: int, ticks: int, dt: float) -> RawRows:
        """Grid points before the end of a chunk, and not after the newest sample."""
        if self._next < 0:
            return RawRows(np.empty((len(self._at), 0, 1)), self.step, np.empty(0, dtype=np.intp))
        last = int(np.ceil((start + ticks) * dt / self.step - _ON)) - 1
        if len(self._time):
            last = min(last, int(np.floor(self._time[-1] / self.step + _ON)))
        points = np.arange(self._next, last + 1)
        self._next += len(points)
        grid = np.asarray(points * self.step, dtype=np.float64)
        values = self._between(grid)
        self._forget(self._next * self.step)
        at = np.clip(np.floor(grid / dt + _ON).astype(np.intp) - start, 0, max(ticks - 1, 0))
        return RawRows(values[:, :, None], self.step, at)

    def _between(self, grid: Array) -> Array:
        """On a sample its value, whatever lies beside it; else along a straight line between two that aren't far apart."""
        time, values, near = self._time, self._values, _ON * self.step
        if not len(grid):
            return np.empty((len(self._at), 0))
        newest = np.searchsorted(time, grid + near, side="right") - 1
        before = np.maximum(newest, 0)
        after = np.minimum(before + 1, len(time) - 1)
        past, long = grid - time[before], time[after] - time[before]
        joined: Array = values[:, before] + past / np.maximum(long, near) * (values[:, after] - values[:, before])
        joined[:, (newest < 0) | (long > LONGEST_STEPS * self.step)] = np.nan
        on = (newest >= 0) & (past <= near)
        joined[:, on] = values[:, before[on]]
        return joined

    def _forget(self, until: float) -> None:
        """Drop samples that no later point lies next to."""
        keep = max(int(np.searchsorted(self._time, until)) - 1, 0)
        self._time, self._values = self._time[keep:], self._values[:, keep:]


def usual_steps(log: Log, streams: Collection[int]) -> dict[int, float]:
    """Usual step of some streams, from their first samples. [s]"""
    stamps = {stream: np.empty(0) for stream in streams}
    waiting = set(streams)
    if waiting:
        for part in in_order(log, []):
            if part.stream in waiting:
                stamps[part.stream] = np.concatenate([stamps[part.stream], part.time])[:_ENOUGH]
                waiting -= {part.stream} if part.ended or len(stamps[part.stream]) == _ENOUGH else set()
            if not waiting:
                break
    return {stream: _usual_step(time) for stream, time in stamps.items() if len(time) > 1}


def _usual_step(time: Array) -> float:
    """Median step, as a whole rate per second where it is one within the jitter."""
    step = float(np.median(np.diff(time)))
    rate = round(1.0 / step)
    return 1.0 / rate if rate and abs(rate * step - 1.0) < 0.02 else step  # noqa: PLR2004 - our choice

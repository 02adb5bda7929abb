"""A log: a recording set against a channel map; parts of consecutive samples in SI, stream by stream, in order of time."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import CORNERS
from replay.channels.channel_map import ChannelMap, Found, Resolved, unmapped
from replay.channels.mounting import FORCES, RATES, Mounting
from replay.notice import Notice, file_digest
from replay.recording import Recording

if TYPE_CHECKING:
    from dualduty.signals import Layout

Array = NDArray[np.float64]
ALWAYS: Final = np.inf  # s; a drive mode holds until another is named


@dataclass(frozen=True)
class Stream:
    """Rows that share a clock and a latency [s]; `group` is the one of the recording that they come from."""

    index: int
    group: int
    latency: float
    rows: NDArray[np.intp]


@dataclass(frozen=True)
class LogPart:
    """Some consecutive samples of one stream.

    rows : (row,) int array
        Which rows of the log's layout; `Log.mode_row` is the index of the drive mode.
    stamps : (sample,) array
        Time as recorded, in the log's own unit; for messages.
    time : (sample,) array
        Time since the log's first stamp at which the controller had the sample: stamp plus latency. [s]
    values : (row, sample) array
        NaN where there is no value. [SI]
    lines : (sample,) int array
        Where each sample stands: line of the file, or index in the group.
    done : float
        Share of the stream up to the end of this part.
    ended : bool
        True on the last part of a stream, which holds no sample.
    """

    stream: int
    rows: NDArray[np.intp]
    stamps: Array
    time: Array
    values: Array
    lines: NDArray[np.int64]
    done: float = 0.0
    ended: bool = False


@dataclass
class Log:
    """What every kind of log gives to the replay; `notices` are those of the latest pass."""

    recording: Recording
    channel_map: ChannelMap
    resolved: Resolved
    notices: list[Notice] = field(default_factory=list)

    @property
    def name(self) -> str:
        """What messages call it."""
        return self.recording.name

    @cached_property
    def digests(self) -> dict[str, str]:
        """Content digests of the log and of its channel map."""
        found = dict(self.recording.digests)
        path = Path(self.channel_map.file)
        return found | ({"channel map": file_digest(path)} if found and path.is_file() else {})

    @cached_property
    def layout(self) -> Layout:
        """Rows of the parts."""
        return self.channel_map.layout

    @property
    def mode_row(self) -> int:
        """Row of the drive mode: an index into `modes`."""
        return self.layout.size

    @property
    def modes(self) -> tuple[str, ...]:
        """Names of the drive modes, by index."""
        return self.channel_map.mode.modes

    @cached_property
    def given(self) -> dict[int, tuple[int, float]]:
        """Group and latency [s] of every row that has values; what a turned inertial unit gives needs all it is made from."""
        rows = {found.row: (found.group, found.channel.latency) for found in self.resolved.found}
        for name in self._turned:
            made_from = [self.layout.rows[part].start for part in self._mounting.made_from(name)]
            sources = {rows_of for part in made_from if (rows_of := self._own.get(part)) is not None}
            row = self.layout.rows[name].start
            rows.pop(row, None)
            if all(part in self._own for part in made_from) and len({group for group, _ in sources}) == 1:
                rows[row] = max(sources, key=lambda source: source[1])
        return dict(sorted(rows.items()))

    @cached_property
    def _own(self) -> dict[int, tuple[int, float]]:
        """Group and latency of every row that has a column of its own."""
        return {found.row: (found.group, found.channel.latency) for found in self.resolved.found}

    @property
    def _mounting(self) -> Mounting:
        return self.channel_map.mounting or Mounting()

    @cached_property
    def _turned(self) -> tuple[str, ...]:
        """Signals that an inertial unit not mounted straight makes out of its own."""
        needs = self._mounting.needs
        return tuple(name for name in (*FORCES, *RATES) if set(self._mounting.made_from(name)) & set(needs)) if needs else ()

    @cached_property
    def streams(self) -> tuple[Stream, ...]:
        """Streams of the log, those of one group together."""
        rows: dict[tuple[int, float], list[int]] = {}
        for row, (group, latency) in self.given.items():
            rows.setdefault((group, latency), []).append(row)
        if self.resolved.mode_column:
            rows.setdefault((self.resolved.mode_group, 0.0), []).append(self.mode_row)
        return tuple(
            Stream(index, group, latency, np.array(mine, dtype=np.intp))
            for index, ((group, latency), mine) in enumerate(sorted(rows.items()))
        )

    @property
    def bridges(self) -> Array:
        """How long a blank of each row is filled with its last value, (row,) array, the drive mode last. [s]"""
        bridges = np.zeros(self.layout.size + 1)
        for found in self.resolved.found:
            bridges[found.row] = found.channel.bridge
        bridges[self.mode_row] = ALWAYS
        return bridges

    def found_in(self, group: int) -> tuple[Found, ...]:
        """Channels found in one group of the recording."""
        return tuple(found for found in self.resolved.found if found.group == group)

    def has(self, name: str) -> bool:
        """True when every corner of a signal has a column."""
        signal = next((signal for signal in self.layout.signals if signal.name == name), None)
        return signal is not None and all(row in self.given for row in range(*self.layout.rows[name].indices(self.layout.size)))

    def lacking(self, name: str) -> list[str]:
        """A line for each corner of a signal that has no column, or of the columns that its inertial unit lacks."""
        if name in self._turned:
            lacks = [line for part in self._mounting.made_from(name) for line in self._unmapped(part)]
            return [] if self.has(name) else lacks or [f"{name}: the columns of the inertial unit lie in several groups"]
        return self._unmapped(name)

    def _unmapped(self, name: str) -> list[str]:
        lines = list(self.resolved.missing.get(name, ()))
        corners = unmapped(self.channel_map, name)
        if corners:
            signal = next(signal for signal in self.layout.signals if signal.name == name)
            where = "" if len(corners) == signal.corners else f" for {', '.join(CORNERS[corner] for corner in corners)}"
            lines.append(f"{name}: {self.channel_map.file} names no column{where} (signals.{name})")
        return lines

    def place(self, stream: int, line: int) -> str:
        """Place of a sample for messages: `run7.csv line 12`."""
        return self.recording.place(self.streams[stream].group, line)

    def parts(self, needed: Collection[str] | None = None) -> Iterator[LogPart]:
        """A fresh pass over all streams, checked on the way; each stream ends with an empty part.

        A channel of `needed` (all when None) without a single value is an error, found at the end of the pass.
        """
        from replay.merge import in_order
        from replay.watch import Watch

        watch = Watch(self, needed)
        watch.notices.extend(self.recording.opening)
        self.notices = watch.notices
        for part in in_order(self, watch.notices):
            watch.see(part)
            yield part
        watch.end()

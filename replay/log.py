"""A log: a recording set against a channel map; parts of consecutive samples in SI, stream by stream, in order of time."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from replay.channel_map import ChannelMap, Found, Resolved
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
    def streams(self) -> tuple[Stream, ...]:
        """Streams of the log, those of one group together."""
        rows: dict[tuple[int, float], list[int]] = {}
        for found in self.resolved.found:
            rows.setdefault((found.group, found.channel.latency), []).append(found.row)
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
        return signal is not None and sum(found.channel.name == name for found in self.resolved.found) == signal.corners

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

"""A log: parts of consecutive samples in SI, what is known about the run, and what to tell about the recording itself."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Collection, Iterator
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.channel_map import ChannelMap, Resolved

if TYPE_CHECKING:
    from dualduty.signals import Layout

Array = NDArray[np.float64]
BLANK: Final = -1  # drive mode of a sample that names none


@dataclass(frozen=True)
class Notice:
    """Something about a recording that is no error but should be known; times since the first stamp. [s]"""

    kind: str
    channel: str
    start: float
    length: float
    text: str

    def to_row(self) -> dict[str, Any]:
        """As a plain dict."""
        return asdict(self)

    def __str__(self) -> str:
        return f"{self.kind}: {self.text}"


@dataclass(frozen=True)
class LogPart:
    """Some consecutive samples of a log.

    stamps : (sample,) array
        Time as recorded, in the log's own unit; for messages.
    time : (sample,) array
        Time since the log's first stamp. [s]
    values : (row, sample) array
        Rows by the log's layout, NaN where there is no value. [SI]
    mode : (sample,) int16 array
        Index into the log's mode names, BLANK where none is named.
    lines : (sample,) int array
        Where each sample stands: line of the file, or index in the arrays.
    done : float
        Share of the log up to the end of this part.
    """

    stamps: Array
    time: Array
    values: Array
    mode: NDArray[np.int16]
    lines: NDArray[np.int64]
    done: float = 0.0


@dataclass
class Log(ABC):
    """What every kind of log gives to the replay; `counts` is what `LogPart.lines` count: "line" or "sample"."""

    name: str
    channel_map: ChannelMap
    resolved: Resolved
    counts: str = "line"
    notices: list[Notice] = field(default_factory=list)
    opening: list[Notice] = field(default_factory=list)

    @abstractmethod
    def read(self) -> Iterator[LogPart]:
        """A fresh pass over the samples, unchecked."""

    @property
    def digests(self) -> dict[str, str]:
        """Content digests by what they name."""
        return {}

    @property
    def layout(self) -> Layout:
        """Rows of the parts."""
        return self.channel_map.layout

    @property
    def modes(self) -> tuple[str, ...]:
        """Names of the drive modes, by the index in `LogPart.mode`."""
        return self.channel_map.mode.modes

    @property
    def bridges(self) -> Array:
        """How long a blank of each row is filled with its last value, `(row,)` array. [s]"""
        bridges = np.zeros(self.layout.size)
        for found in self.resolved.found:
            bridges[found.row] = found.channel.bridge
        return bridges

    def has(self, name: str) -> bool:
        """True when every corner of a signal has a column."""
        signal = next((signal for signal in self.layout.signals if signal.name == name), None)
        return signal is not None and sum(found.channel.name == name for found in self.resolved.found) == signal.corners

    def place(self, line: int) -> str:
        """Place of a sample for messages: `run7.csv line 12`."""
        return f"{self.name} {self.counts} {line}"

    def parts(self, needed: Collection[str] | None = None) -> Iterator[LogPart]:
        """A fresh pass over the samples, checked on the way; `notices` are those of the latest pass.

        A channel of `needed` (all when None) without a single value is an error, found at the end of the pass.
        """
        from replay.watch import Watch

        watch = Watch(self, needed)
        watch.notices.extend(self.opening)
        self.notices = watch.notices
        mode = BLANK
        for part in self.read():
            watch.see(part)
            filled = self._modes_held(part, mode)
            mode = int(filled[-1]) if len(filled) else mode
            yield part if filled is part.mode else replace(part, mode=filled)
        watch.end()

    def _modes_held(self, part: LogPart, before: int) -> NDArray[np.int16]:
        """Drive modes of a part with the last one held where none is named."""
        blank = part.mode == BLANK
        if not blank.any():
            return part.mode
        if before == BLANK and blank[0]:
            source = self.channel_map.mode
            if not source.before_first:
                problem = f"no drive mode yet; name one in {self.channel_map.file}: mode.before_first"
                raise BadInput(self.place(int(part.lines[0])), problem)
            before = self.modes.index(source.before_first)
        last = np.maximum.accumulate(np.where(blank, -1, np.arange(len(blank))))
        return np.where(last < 0, np.int16(before), part.mode[last])


def mode_indices(channel_map: ChannelMap, values: Any, place: Callable[[int], str]) -> NDArray[np.int16]:
    """Index into the map's modes for recorded values, BLANK where empty; `place(index)` names a sample for BadInput."""
    import pandas as pd

    from replay.channel_map_file import recorded

    codes, uniques = pd.factorize(values)
    source = channel_map.mode
    table = np.full(len(uniques) + 1, BLANK, dtype=np.int16)  # the last entry serves the code -1 of a blank
    for code, value in enumerate(uniques):
        spelled = recorded(value)
        if not spelled:
            continue
        if spelled not in source.names:
            expected = ", ".join(f"{key!r} ({name})" for key, name in source.names.items())
            raise BadInput(
                place(int(np.argmax(codes == code))),
                f"drive mode {spelled!r} is not in {channel_map.file}: mode.names; expected {expected}",
            )
        table[code] = source.modes.index(source.names[spelled])
    return table[codes]


def file_digest(path: Path) -> str:
    """SHA-256 of a file's content."""
    import hashlib

    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()

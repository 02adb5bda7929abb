"""Watches a log pass by: gaps and stretches without a value are told with start and length."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput, SeveralBadInputs
from replay.channels.channel_map import Found
from replay.log import Log, LogPart
from replay.notice import Notice

Array = NDArray[np.float64]

GAP_STEPS: Final = 2.5  # a step longer than this many typical ones is a gap: two samples lost, jitter is not
TYPICAL_FROM: Final = 1000  # steps at the start of the log that say what is typical
LONGEST_GAP: Final = 6 * 3600.0  # s; a lunch break and more; beyond it a clock was set, and ticks without end would be computed
MOST_NOTICES: Final = 500  # of one kind and channel; the rest are counted


@dataclass
class _Clock:
    """What is known of one group's clock."""

    time: float = np.nan  # of the last sample
    typical: float = 0.0
    samples: int = 0


class Watch:
    """Checks parts in order and collects notices; memory doesn't grow with the log."""

    def __init__(self, log: Log, needed: Collection[str] | None) -> None:
        self.notices: list[Notice] = []
        self._log = log
        self._needed = needed
        self._clocks = {stream.group: _Clock() for stream in log.streams}
        self._since: dict[int, float] = {}  # row -> start of the stretch without a value it is in
        self._until: dict[int, float] = {}  # row -> time of its last sample
        self._bridges = log.bridges
        self._with_value: set[int] = set()
        self._counted: Counter[tuple[str, str]] = Counter()
        self._found: list[list[tuple[int, Found]]] = [_rows_of(log, stream.index) for stream in log.streams]
        self._keeps_clock = {min(stream.index for stream in log.streams if stream.group == group) for group in self._clocks}

    def see(self, part: LogPart) -> None:
        """Check the next part."""
        if not len(part.time):
            return
        if part.stream in self._keeps_clock:
            self._steps(part)
        for at, found in self._found[part.stream]:
            self._values(part.values[at], found, part.time)

    def end(self) -> None:
        """What can only be told once all samples were seen."""
        if not any(clock.samples for clock in self._clocks.values()):
            raise BadInput(self._log.name, "the log is empty: expected at least one row of numbers")
        for found in self._log.resolved.found:
            if found.row in self._since:
                self._stretches(found, np.array([self._since[found.row]]), np.array([self._until[found.row]]))
        for (kind, channel), count in self._counted.items():
            if count > MOST_NOTICES:
                text = f"{channel}: {count - MOST_NOTICES} more, not told one by one".removeprefix(": ")
                self.notices.append(Notice(kind, channel, np.nan, np.nan, text))
        self._refuse_empty()

    def _refuse_empty(self) -> None:
        problems = []
        for found in self._log.resolved.found:
            if found.row in self._with_value:
                continue
            text = f"column {found.column!r} ({found.label}) has no value in the whole log"
            if self._needed is None or found.channel.name in self._needed:
                problems.append(BadInput(self._log.name, text))
            else:
                self.notices.append(Notice("empty channel", found.label, 0.0, self._until.get(found.row, 0.0), text))
        if problems:
            raise problems[0] if len(problems) == 1 else SeveralBadInputs(problems)

    def _steps(self, part: LogPart) -> None:
        stream = self._log.streams[part.stream]
        clock = self._clocks[stream.group]
        time = part.time - stream.latency if stream.latency else part.time
        if not np.isfinite(time[-1]):
            raise BadInput(self._log.place(part.stream, int(part.lines[-1])), "time is beyond all bounds")
        time = np.concatenate([[clock.time], time]) if clock.samples else time
        steps = np.diff(time)
        lines = part.lines if clock.samples else part.lines[1:]
        if not clock.typical and len(steps):
            clock.typical = float(np.quantile(steps[:TYPICAL_FROM], 0.5, method="lower"))
        for step in np.flatnonzero(steps > min(GAP_STEPS * clock.typical, LONGEST_GAP)):
            self._gap(clock, stream.group, self._log.place(part.stream, int(lines[step])), (float(time[step]), float(steps[step])))
        clock.time = float(time[-1])
        clock.samples += len(part.time)

    def _gap(self, clock: _Clock, group: int, place: str, gap: tuple[float, float]) -> None:
        start, length = gap
        if length > LONGEST_GAP:
            raise BadInput(
                place, f"time jumps by {length:.6g} s; longer than {LONGEST_GAP:g} s is a clock that was set, not a gap: cut the log here"
            )
        name = self._log.recording.groups[group].name if len(self._clocks) > 1 else ""
        told = f"no sample for {length:.3f} s from {start:.3f} s (usual step {clock.typical * 1e3:.3g} ms)"
        self._tell("gap", name, start, length, f"{name}: {told}" if name else told)

    def _values(self, values: Array, found: Found, time: Array) -> None:
        row = found.row
        self._until[row] = float(time[-1])
        if not np.isnan(values.min()):  # min hands a NaN on, and is quicker than looking at each
            self._with_value.add(row)
            if row in self._since:
                self._stretches(found, np.array([self._since.pop(row)]), time[:1])
            return
        blank = np.isnan(values)
        if not blank.all():
            self._with_value.add(row)
        before = self._since.pop(row, None)
        edges = np.flatnonzero(np.diff(np.concatenate([[before is not None], blank]).astype(np.int8)))
        begins = blank[edges]
        starts, ends = time[edges[begins]], time[edges[~begins]]
        starts = starts if before is None else np.concatenate([[before], starts])
        if len(starts) > len(ends):
            self._since[row] = float(starts[-1])
        self._stretches(found, starts[: len(ends)], ends)

    def _stretches(self, found: Found, starts: Array, ends: Array) -> None:
        """Tell stretches without a value that are not bridged."""
        bridge = self._bridges[found.row]
        long = np.flatnonzero(ends - starts > bridge) if bridge else np.arange(len(ends))
        room = max(MOST_NOTICES - self._counted["no value", found.label], 0)
        for at in long[:room].tolist():
            start, end = float(starts[at]), float(ends[at])
            self._tell("no value", found.label, start, end - start, f"{found.label}: no value from {start:.3f} s to {end:.3f} s")
        self._counted["no value", found.label] += max(len(long) - room, 0)

    def _tell(self, kind: str, channel: str, start: float, length: float, text: str) -> None:
        self._counted[kind, channel] += 1
        if self._counted[kind, channel] <= MOST_NOTICES:
            self.notices.append(Notice(kind, channel, start, length, text))


def _rows_of(log: Log, stream: int) -> list[tuple[int, Found]]:
    """Channels of a stream and where each stands in its parts; rows of a group's only stream stand in the same order."""
    rows = log.streams[stream].rows.tolist()
    return [(rows.index(found.row), found) for found in log.resolved.found if found.row in rows]

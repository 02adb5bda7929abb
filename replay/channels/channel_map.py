"""A channel map: which column of a log is which signal, in what unit, which way round, and what selects the drive mode."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.signals import CONTROLLER_SIGNALS, CORNERS, Layout, Signal
from replay.channels.mounting import Mounting
from replay.formats.file_form import FileForm
from replay.recording import Group

COMMANDS: Final = ("logged_compression", "logged_rebound")  # the duties the vehicle's own controller commanded
_SHOWN: Final = 12  # columns told in a message
DEFAULT_HOLD: Final = 0.1  # s; our choice: bridges a few lost packets, far shorter than anything a state lasts
MARKER: Final = Signal("marker", "1", "1", 1, 0.0, 0.0, 1.0, 1e9, "the driver's marker button, 1 while it is pressed", seen=False)


@dataclass(frozen=True)
class Channel:
    """One column as one row of a stack: `value [SI] = gain * curve(recorded) + shift`.

    `columns` are the names looked for, in order; `bridge` is how long a blank is filled with the last value [s],
    0: a blank is an invalid sample at once; `key` is where the map names it. `curve` has pairs of recorded value and
    reading; `latency` is how much later than its stamp the controller had the value [s]; `group` is the one of the recording to look
    in, "": any. With `on_above` the value is 1 where more than that was recorded, else 0.
    """

    name: str
    corner: int
    columns: tuple[str, ...]
    gain: float = 1.0
    shift: float = 0.0
    bridge: float = 0.0
    key: str = ""
    curve: tuple[tuple[float, float], ...] = ()
    latency: float = 0.0
    group: str = ""
    on_above: float | None = None

    def label(self, corners: int) -> str:
        """Name for people: `shaft_travel front_left`."""
        return f"{self.name} {CORNERS[self.corner]}" if corners > 1 else self.name


@dataclass(frozen=True)
class TimeBase:
    """Where time comes from: a column of stamps, `factor` seconds each, a fixed rate [1/s], or without both the recording's own clock."""

    columns: tuple[str, ...] = ()
    factor: float = 1.0
    rate: float = 0.0


@dataclass(frozen=True)
class ModeSource:
    """What selects the drive mode: a column and a table from recorded value to mode name, or one mode throughout."""

    columns: tuple[str, ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)
    constant: str = ""
    before_first: str = ""
    group: str = ""

    @property
    def modes(self) -> tuple[str, ...]:
        """Mode names, each once, in the order of the map."""
        return tuple(dict.fromkeys(name for name in (*self.names.values(), self.constant, self.before_first) if name))


@dataclass(frozen=True)
class ChannelMap:
    """Everything needed to read one kind of log; `run` is the run sheet as written, free text by key."""

    file: str
    time: TimeBase
    mode: ModeSource
    channels: tuple[Channel, ...]
    extra: tuple[Signal, ...] = ()
    driven_by: str = ""
    run: Mapping[str, str] = field(default_factory=dict)
    longest_hold: float = DEFAULT_HOLD
    form: FileForm = field(default_factory=FileForm)
    mounting: Mounting | None = None

    @property
    def layout(self) -> Layout:
        """Rows of a log's stack: those of the controller first, then instrumentation, commands and logged states."""
        return Layout((*CONTROLLER_SIGNALS, *self.extra))


@dataclass(frozen=True)
class Found:
    """A channel, the row it fills, the column it was found in, what to call it, and in which group of the recording it lies."""

    channel: Channel
    row: int
    column: str
    label: str
    group: int = 0


@dataclass(frozen=True)
class Resolved:
    """A channel map set against one recording; `missing` has one line per channel that isn't there.

    `time_columns` has an entry for each group of the recording: "" where time is the group's own clock or a fixed rate.
    `mode_group` is -1 where one drive mode holds throughout.
    """

    found: tuple[Found, ...]
    missing: Mapping[str, tuple[str, ...]]
    time_columns: tuple[str, ...]
    mode_column: str = ""
    mode_group: int = -1


def resolve(channel_map: ChannelMap, groups: Sequence[Group], log: str) -> Resolved:
    """Find every channel; a group in use without a clock, a missing mode column or a name in doubt is BadInput, the rest is listed."""
    search = _Search(groups, log, channel_map.file)
    found, missing = _find_channels(channel_map, search)
    mode = search.must(channel_map.mode.columns, channel_map.mode.group, "drive mode", "mode")
    used = {entry.group for entry in found} | ({mode[1]} if mode else set())
    used = used or set(range(min(1, len(groups))))
    times = tuple(_time_column(channel_map.time, index, search) if index in used else "" for index in range(len(groups)))
    for column, index in dict.fromkeys([*((times[i], i) for i in used), *([mode] if mode else []), *((f.column, f.group) for f in found)]):
        search.once(column, index)
    if search.problems:
        raise search.problems[0] if len(search.problems) == 1 else SeveralBadInputs(search.problems)
    return Resolved(tuple(found), missing, times, *(mode or ("", -1)))


class _Search:
    """Looks for columns among the groups of a recording, and collects what is wrong."""

    def __init__(self, groups: Sequence[Group], log: str, file: str) -> None:
        self.groups = groups
        self.log = log
        self.file = file
        self.problems: list[BadInput] = []

    def bad(self, text: str) -> None:
        self.problems.append(BadInput(self.log, text))

    def find(self, wanted: Sequence[str], group: str, key: str) -> tuple[str, int] | None:
        """Column and index of its group; a name that several groups have is a problem unless the map says which."""
        within = [index for index, entry in enumerate(self.groups) if not group or entry.name == group]
        for column in wanted:
            held = [index for index in within if column in self.groups[index].names]
            if len(held) > 1:
                names = _listed([self.groups[index].name for index in held])
                self.bad(f"column {column!r} is in several groups, {names}; say which with group = ... in {self.file}: {key}")
            if held:
                return column, held[0]
        return None

    def must(self, wanted: Sequence[str], group: str, what: str, key: str) -> tuple[str, int] | None:
        found = self.find(wanted, group, key)
        if wanted and found is None:
            self.bad(f"no column for {what}: looked for {self.told(wanted, group)}")
        return found

    def told(self, wanted: Sequence[str], group: str, key: str = "") -> str:
        """What was looked for, where, and what comes near."""
        place = f" ({self.file}: {key})" if key else ""
        names = [entry.name for entry in self.groups]
        if group and group not in names:
            return f"{_listed(wanted)} in group {group!r}{place}; the log has the groups {_listed(names[:_SHOWN])}"
        columns = [column for entry in self.groups if not group or entry.name == group for column in entry.names]
        return f"{_listed(wanted)}{f' in group {group!r}' if group else ''}{place}{near_misses(wanted, columns)}"

    def once(self, column: str, index: int) -> None:
        count = self.groups[index].names.count(column) if column else 0
        if count > 1:
            self.bad(f"column {column!r} occurs {count} times; expected once")


def _find_channels(channel_map: ChannelMap, search: _Search) -> tuple[list[Found], dict[str, tuple[str, ...]]]:
    layout = channel_map.layout
    corners = {signal.name: signal.corners for signal in layout.signals}
    found: list[Found] = []
    missing: dict[str, tuple[str, ...]] = {}
    for channel in channel_map.channels:
        label = channel.label(corners[channel.name])
        hit = search.find(channel.columns, channel.group, channel.key)
        if hit is None:
            line = f"{label}: looked for {search.told(channel.columns, channel.group, channel.key)}"
            missing[channel.name] = (*missing.get(channel.name, ()), line)
        else:
            found.append(Found(channel, layout.rows[channel.name].start + channel.corner, hit[0], label, hit[1]))
    return found, missing


def _time_column(time: TimeBase, index: int, search: _Search) -> str:
    """The column of stamps in one group; "" for a fixed rate or the group's own clock."""
    group = search.groups[index]
    column = _first(time.columns, group.names)
    if column is not None:
        return column
    if group.clock or time.rate:
        return ""
    within = f" in group {group.name!r}" if len(search.groups) > 1 else ""
    if time.columns:
        search.bad(f"no column for time{within}: looked for {_listed(time.columns)}{near_misses(time.columns, group.names)}")
    else:
        search.bad(f"has no clock of its own{within}; expected a column, or rate_hz, in {search.file}: time")
    return ""


def unmapped(channel_map: ChannelMap, name: str) -> list[int]:
    """Corners of a signal for which the map names no column."""
    signal = next(signal for signal in channel_map.layout.signals if signal.name == name)
    named = {channel.corner for channel in channel_map.channels if channel.name == name}
    return [corner for corner in range(signal.corners) if corner not in named]


def near_misses(wanted: Sequence[str], columns: Sequence[str]) -> str:
    """`; near misses: ...` among the columns of a log, whatever their case."""
    folded = {column.casefold(): column for column in reversed(columns)}
    near = [hit for want in wanted for hit in difflib.get_close_matches(want.casefold(), list(folded), n=3, cutoff=0.6)]
    names = list(dict.fromkeys(folded[hit] for hit in near))[:4]
    if names:
        return f"; near misses: {_listed(names)}"
    return f"; the log has {_listed(columns[:_SHOWN])}{' ...' if len(columns) > _SHOWN else ''}"


def _first(wanted: Sequence[str], columns: Sequence[str]) -> str | None:
    return next((want for want in wanted if want in columns), None)


def _listed(names: Sequence[str]) -> str:
    return ", ".join(repr(name) for name in names)

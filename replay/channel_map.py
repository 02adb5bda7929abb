"""A channel map: which column of a log is which signal, in what unit, which way round, and what selects the drive mode."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.signals import CONTROLLER_SIGNALS, CORNERS, Layout, Signal

COMMANDS: Final = ("logged_compression", "logged_rebound")  # the duties the vehicle's own controller commanded
_SHOWN: Final = 12  # columns told in a message
DEFAULT_HOLD: Final = 0.1  # s; our choice: bridges a few lost packets, far shorter than anything a state lasts


@dataclass(frozen=True)
class Channel:
    """One column as one row of a stack: `value [SI] = gain * recorded + shift`.

    `columns` are the names looked for, in order; `bridge` is how long a blank is filled with the last value [s],
    0: a blank is an invalid sample at once; `key` is where the map names it.
    """

    name: str
    corner: int
    columns: tuple[str, ...]
    gain: float = 1.0
    shift: float = 0.0
    bridge: float = 0.0
    key: str = ""

    def label(self, corners: int) -> str:
        """Name for people: `shaft_travel front_left`."""
        return f"{self.name} {CORNERS[self.corner]}" if corners > 1 else self.name


@dataclass(frozen=True)
class TimeBase:
    """Where time comes from: a column of stamps, `factor` seconds each, or a fixed rate [1/s] where there is none."""

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
    lines_below_header: int = 0
    decimal_comma: bool = False

    @property
    def layout(self) -> Layout:
        """Rows of a log's stack: those of the controller first, then instrumentation, commands and logged states."""
        return Layout((*CONTROLLER_SIGNALS, *self.extra))


@dataclass(frozen=True)
class Found:
    """A channel, the row it fills, the column it was found in, and what to call it."""

    channel: Channel
    row: int
    column: str
    label: str


@dataclass(frozen=True)
class Resolved:
    """A channel map set against the columns of one log; `missing` has one line per channel that isn't there."""

    found: tuple[Found, ...]
    missing: Mapping[str, tuple[str, ...]]
    time_column: str
    mode_column: str


def resolve(channel_map: ChannelMap, columns: Sequence[str], log: str) -> Resolved:
    """Find every channel among `columns`; a missing time or mode column is BadInput, missing signals are listed."""
    layout = channel_map.layout
    corners = {signal.name: signal.corners for signal in layout.signals}
    found: list[Found] = []
    missing: dict[str, tuple[str, ...]] = {}
    for channel in channel_map.channels:
        label = channel.label(corners[channel.name])
        column = _first(channel.columns, columns)
        if column is None:
            line = (
                f"{label}: looked for {_listed(channel.columns)} ({channel_map.file}: {channel.key}){near_misses(channel.columns, columns)}"
            )
            missing[channel.name] = (*missing.get(channel.name, ()), line)
        else:
            found.append(Found(channel, layout.rows[channel.name].start + channel.corner, column, label))
    problems: list[BadInput] = []
    time_column = _must(channel_map.time.columns, columns, ("time", log), problems)
    mode_column = _must(channel_map.mode.columns, columns, ("drive mode", log), problems)
    used = dict.fromkeys([time_column, mode_column, *(entry.column for entry in found)])
    counts = [(column, list(columns).count(column)) for column in used if column]
    problems += [BadInput(log, f"column {column!r} occurs {count} times; expected once") for column, count in counts if count > 1]
    if problems:
        raise problems[0] if len(problems) == 1 else SeveralBadInputs(problems)
    return Resolved(tuple(found), missing, time_column, mode_column)


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


def _must(wanted: Sequence[str], columns: Sequence[str], what: tuple[str, str], problems: list[BadInput]) -> str:
    column = _first(wanted, columns)
    if wanted and column is None:
        problems.append(BadInput(what[1], f"no column for {what[0]}: looked for {_listed(wanted)}{near_misses(wanted, columns)}"))
    return column or ""


def _first(wanted: Sequence[str], columns: Sequence[str]) -> str | None:
    return next((want for want in wanted if want in columns), None)


def _listed(names: Sequence[str]) -> str:
    return ", ".join(repr(name) for name in names)

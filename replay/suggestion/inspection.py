"""A recording looked through once: every channel with its range, rate and blanks, every group with its clock and gaps."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.recording import Block, Column, Group, Recording
from replay.suggestion.channel_words import said_by
from replay.suggestion.guessed_time import guessed_time, seconds_of
from replay.suggestion.running_look import ChannelLook, ClockLook

Array = NDArray[np.float64]
Progress = Callable[[float], None]
_LOOKED_AT: Final = 2000  # first values of a column, to tell words from numbers
_MOST_WORDS: Final = 8
_NO_VALUE: Final = ("", "-", "--", "n/a", "na", "none", "null")


@dataclass(frozen=True)
class ChannelSeen:
    """One channel as it was recorded, in the recording's own unit; `values` are its distinct ones where they are few.

    `rate` is that of its own values [1/s], one in `spacing` samples of its group; `low` and `high` are the 1st and 99th
    percentile; `strip` is least and most of equal
    stretches of the recording, two (stretch,) arrays. `text` marks a column of words, of which only `words` are known.
    """

    group: int
    name: str
    unit: str
    samples: int = 0
    blank: float = 1.0
    rate: float = np.nan
    low: float = np.nan
    middle: float = np.nan
    high: float = np.nan
    least: float = np.nan
    most: float = np.nan
    step: float = np.nan
    values: tuple[float, ...] | None = None
    strip: tuple[Array, Array] = (np.empty(0), np.empty(0))
    text: bool = False
    words: tuple[str, ...] = ()
    twice: bool = False
    spacing: int = 1


@dataclass(frozen=True)
class GroupSeen:
    """One group: what gives time, its usual rate [1/s], how long it lasts [s], and steps much longer than usual."""

    index: int
    name: str
    clock: str  # column of stamps, "" for the group's own clock
    time_unit: str
    own_clock: bool
    samples: int
    rate: float
    lasts: float
    gaps: int
    longest_gap: float
    back: int
    repeated: int
    unit_is_said: bool = True


@dataclass(frozen=True)
class Inspection:
    """All channels and groups of a recording; `notices` is what was to be told when it was opened."""

    name: str
    groups: tuple[GroupSeen, ...]
    channels: tuple[ChannelSeen, ...]
    notices: tuple[str, ...] = ()


def inspect_recording(
    recording: Recording, *, times: Mapping[int, tuple[str, str]] | None = None, rate: float = 0.0, progress: Progress | None = None
) -> Inspection:
    """Look through all columns of a recording.

    `times` says per group which column is time, and in which unit, where that is known; `rate` that of one without stamps. [1/s]
    """
    groups: list[GroupSeen] = []
    channels: list[ChannelSeen] = []
    for index, group in enumerate(recording.groups):
        step = _within(progress, index, len(recording.groups))
        seen, found = _look_through(recording, index, group, (times or {}).get(index), step)
        if not seen.clock and not seen.own_clock and rate:
            seen = replace(seen, rate=rate, lasts=seen.samples / rate)
            found = [replace(channel, rate=rate / channel.spacing) for channel in found]
        groups.append(seen)
        channels += found
    return Inspection(recording.name, tuple(groups), tuple(channels), tuple(str(notice) for notice in recording.opening))


@dataclass
class _Pass:
    """One group while it is being read."""

    recording: Recording
    index: int
    clock: str
    looks: dict[str, ChannelLook]
    stamps: ClockLook
    words: dict[str, tuple[str, ...]]
    progress: Progress | None = None

    def numbers(self) -> None:
        """All columns that looked like numbers, as numbers."""
        for block in self.recording.blocks(self.index, list(self.looks), list(self.words)):
            for name, column in block.texts.items():
                self._note_words(name, column)
            self._see(block, block.numbers)

    def texts(self) -> None:
        """All columns as text, where one turned out to hold words further down; slower."""
        for block in self.recording.blocks(self.index, [self.clock] if self.clock else [], [n for n in self.looks if n != self.clock]):
            made = {name: _as_numbers(column) for name, column in block.texts.items()}
            for name, column in block.texts.items():
                strange = [text for text in column[np.isnan(made[name])] if text is not None and not _is_number(text)]
                if strange:
                    self._note_words(name, strange)
            self._see(block, made | dict(block.numbers))

    def _note_words(self, name: str, texts: Iterable[str | None]) -> None:
        known = self.words.get(name, ())
        if len(known) < _MOST_WORDS:
            new = set(texts) - {None, *known}
            self.words[name] = (*known, *sorted(str(text) for text in new))[:_MOST_WORDS]

    def _see(self, block: Block, numbers: Mapping[str, Array]) -> None:
        for name, look in self.looks.items():
            look.see(numbers[name])
        if self.clock:
            self.stamps.see(numbers[self.clock])
        elif block.stamps is not None:
            self.stamps.see(block.stamps)
        if self.progress is not None:
            self.progress(block.done)


def _look_through(
    recording: Recording, index: int, group: Group, time: tuple[str, str] | None, progress: Progress | None
) -> tuple[GroupSeen, list[ChannelSeen]]:
    clock, time_unit = time if time is not None else guessed_time(group)
    names = [name for name in group.names if group.names.count(name) == 1]
    words = _first_words(recording, index, [name for name in names if name != clock])
    run = _Pass(recording, index, clock, {name: ChannelLook() for name in names if name not in words}, ClockLook(), words, progress)
    try:
        run.numbers()
    except BadInput:
        run = replace(run, looks={name: ChannelLook() for name in names}, stamps=ClockLook(), words={})
        run.texts()
    factor, said = seconds_of(time_unit, run.stamps.usual) if clock else (1.0, True)
    seen = _group_seen(index, group, run, factor, (clock, time_unit, said))
    return seen, [_channel_seen(index, column, run, group.names.count(column.name), seen.rate) for column in group.columns]


def _first_words(recording: Recording, index: int, names: list[str]) -> dict[str, tuple[str, ...]]:
    """Columns that hold words, seen from their first values."""
    block = next(iter(recording.blocks(index, [], names)), None) if names else None
    found: dict[str, tuple[str, ...]] = {}
    for name, column in block.texts.items() if block is not None else ():
        texts = [text for text in column[:_LOOKED_AT] if text is not None]
        strange = dict.fromkeys(text for text in texts if not _is_number(text))
        if strange:
            found[name] = ()
    return found


def _is_number(text: str) -> bool:
    try:
        float(str(text).replace(",", ".", 1))
    except ValueError:
        return str(text).strip().lower() in _NO_VALUE
    return True


def _as_numbers(column: NDArray[Any]) -> Array:
    import pandas as pd

    plain = pd.Series(column, dtype=object).astype("str").str.replace(",", ".", regex=False)
    return np.asarray(pd.to_numeric(plain, errors="coerce"), dtype=np.float64)


def _group_seen(index: int, group: Group, run: _Pass, factor: float, time: tuple[str, str, bool]) -> GroupSeen:
    clock, unit, said = time
    stamps, samples = run.stamps, max((look.samples for look in run.looks.values()), default=0)
    gaps = stamps.gaps * factor
    usual = stamps.usual * factor
    return GroupSeen(
        index, group.name, clock, unit if said else {1.0: "s", 1e-3: "ms", 1e-6: "us"}.get(factor, "ns"), bool(group.clock), samples,
        rate=1.0 / usual if usual > 0.0 else np.nan, lasts=(stamps.last - stamps.first) * factor, gaps=len(gaps),
        longest_gap=float(gaps[-1]) if len(gaps) else 0.0, back=stamps.back, repeated=stamps.repeated, unit_is_said=said,
    )  # fmt: skip


def _channel_seen(index: int, column: Column, run: _Pass, count: int, rate: float) -> ChannelSeen:
    unit = column.unit or (found.label if (found := said_by(column.name).unit) is not None else "")
    look = run.looks.get(column.name)
    if look is None or column.name in run.words:
        return ChannelSeen(index, column.name, unit, text=count == 1, words=run.words.get(column.name, ()), twice=count > 1)
    return ChannelSeen(
        index, column.name, unit, look.samples, 1.0 - look.valid / max(look.samples, 1), rate / look.spacing,
        look.percentile(1.0), look.percentile(50.0), look.percentile(99.0),
        look.least if look.valid else np.nan, look.most if look.valid else np.nan, look.step if np.isfinite(look.step) else np.nan,
        tuple(float(value) for value in look.distinct) if look.distinct is not None else None, look.strip.drawn(),
        spacing=look.spacing,
    )  # fmt: skip


def _within(progress: Progress | None, index: int, count: int) -> Progress:
    def told(share: float) -> None:
        if progress is not None:
            progress((index + share) / count)

    return told

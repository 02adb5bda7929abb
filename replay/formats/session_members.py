"""The files of a folder that belong to one session: which they are, which follow each other, and when each begins."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from dualduty.errors import BadInput
from replay.formats.content import FIRST, content_of
from replay.formats.packed_file import packed_file
from replay.notice import Notice
from replay.recording import Group, Recording

if TYPE_CHECKING:
    from replay.channels.channel_map import TimeBase

PAUSE: Final = 1.0  # s, between two files whose stamps begin anew; our choice: longer than any gap that is bridged
NEAR_ZERO: Final = 10.0  # s; our choice: stamps that begin later than this don't count from the beginning of their file
_SKIPPED: Final = (".toml", ".json", ".png", ".jpg", ".svg", ".txt", ".md", ".html", ".pdf", ".xml", ".ini", ".yaml", ".yml", ".marks.csv")


@dataclass(frozen=True)
class Member:
    """One group of one file; `clock` is its column of stamps, "" for the group's own clock or none.

    `first` and `last` are its stamps as recorded, NaN without a clock; `shift` is what is added to them. `extent` is one more than
    the number of its last line, `before` the sum of those of the files ahead of it.
    """

    recording: Recording
    group: int
    clock: str
    first: float
    last: float
    extent: int
    shift: float = 0.0
    before: int = 0

    @property
    def whole(self) -> Group:
        """The group as its file has it."""
        return self.recording.groups[self.group]

    @property
    def file(self) -> str:
        """Name of its file, for people."""
        return Path(self.recording.name).name


def recordings_in(folder: Path) -> tuple[list[Path], list[Notice]]:
    """Files of a folder that hold recordings, by name with numbers by size; and a notice for each other that is left aside."""
    found: list[Path] = []
    aside: list[Notice] = []
    try:
        entries = sorted((entry for entry in folder.iterdir() if entry.is_file()), key=lambda path: in_name_order(path.name))
    except OSError as error:
        raise BadInput(folder, f"can't be read: {error.strerror or error}") from None
    for path in entries:
        if path.name.startswith(".") or path.name.casefold().endswith(_SKIPPED):
            continue
        kind, looks_like = content_of(packed_file(path).beginning(FIRST))
        if kind:
            found.append(path)
        else:
            aside.append(Notice("left aside", "", np.nan, 0.0, f"{path.name} is no recording but {looks_like}"))
    return found, aside


def in_name_order(name: str) -> tuple[tuple[int, int, str], ...]:
    """Sorts `run_2` ahead of `run_10`."""
    return tuple((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in re.split(r"(\d+)", name.casefold()) if part)


def members_of(recording: Recording, time: TimeBase | None) -> list[Member]:
    """The groups of one file, each with its first and last stamp."""
    return [_member(recording, index, time) for index in range(len(recording.groups))]


def _member(recording: Recording, index: int, time: TimeBase | None) -> Member:
    group = recording.groups[index]
    clock = _clock(group, time)
    first = last = np.nan
    extent = 0
    for block in recording.blocks(index, [clock] if clock else []):
        extent = int(block.lines[-1]) + 1
        stamps = block.numbers[clock] if clock else block.stamps
        if stamps is None or not np.isfinite(stamps).any():
            continue
        good = stamps[np.isfinite(stamps)]
        first = float(good[0]) if np.isnan(first) else first
        last = float(np.fmax(last, good.max()))
    return Member(recording, index, clock, first, last, extent)


def _clock(group: Group, time: TimeBase | None) -> str:
    """The column of stamps: as the map says, else by its name."""
    if time is not None and (time.columns or time.rate):
        return next((column for column in time.columns if column in group.names), "")
    if group.clock:
        return ""
    from replay.suggestion.channel_words import said_by

    return next((column.name for column in group.columns if "time" in said_by(column.name).meanings), "")


def chained(members: Sequence[Member], factor: float) -> list[Member]:
    """Files of the same columns one after the other, `factor` seconds a stamp; BadInput where they overlap, or differ in a unit."""
    _same_units(members)
    ordered = sorted(members, key=lambda member: (member.first, in_name_order(member.file)))
    if not _runs_on(ordered):
        ordered = sorted(members, key=lambda member: in_name_order(member.file))
    placed: list[Member] = []
    for member in ordered:
        placed.append(_after(placed[-1], member, factor) if placed else member)
    return placed


def _runs_on(ordered: Sequence[Member]) -> bool:
    return all(not after.first <= before.last for before, after in pairwise(ordered))


def _after(before: Member, member: Member, factor: float) -> Member:
    """A file behind another: as it is stamped where its stamps go on, else PAUSE later."""
    shift = before.shift
    end = before.last + shift
    if member.first + shift <= end:
        if member.first * factor > NEAR_ZERO:
            raise BadInput(
                member.recording.name,
                f"begins at {member.first:.15g}, before {before.file} ends at {before.last:.15g}, with the same columns; "
                "expected files that follow each other: put them into folders of their own",
            )
        shift = end + PAUSE / factor  # its own zero is placed there, so that files beside each other keep theirs
    return replace(member, shift=shift, before=before.before + before.extent)


def _same_units(members: Sequence[Member]) -> None:
    said: dict[str, tuple[str, str]] = {}
    for member in members:
        for column in member.whole.columns:
            unit, file = said.setdefault(column.name, (column.unit, member.file)) if column.unit else ("", "")
            if unit != column.unit:
                raise BadInput(
                    member.recording.name,
                    f"column {column.name!r} is in {column.unit}, in {file} it is in {unit}; expected one unit in a session",
                )

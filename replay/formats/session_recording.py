"""A folder of files that were recorded one after the other, or side by side, as one recording.

Files with the same columns follow each other, files with other columns run beside them as groups of their own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from dualduty.errors import BadInput
from replay.formats.session_members import Member, chained, members_of, recordings_in
from replay.notice import Notice, file_digest
from replay.recording import Block, Recording

if TYPE_CHECKING:
    from replay.channels.channel_map import TimeBase

_TOLD: Final = 20  # files named in the facts


@dataclass
class SessionRecording(Recording):
    """Several files as one recording; opened by `open_session`. Lines are counted on through the files of a group."""

    chains: tuple[tuple[Member, ...], ...] = field(kw_only=True)

    def blocks(self, group: int, numbers: Sequence[str], texts: Sequence[str] = ()) -> Iterator[Block]:
        """A fresh pass over the files of one group, one after the other."""
        chain = self.chains[group]
        total = max(chain[-1].before + chain[-1].extent, 1)
        for member in chain:
            for block in member.recording.blocks(member.group, numbers, texts):
                yield _placed(block, member, total)

    def place(self, group: int, line: int) -> str:
        """File and line of a sample."""
        chain = self.chains[group]
        at = int(np.searchsorted([member.before for member in chain], line, side="right")) - 1
        member = chain[max(at, 0)]
        return member.recording.place(member.group, line - member.before)

    @property
    def digests(self) -> dict[str, str]:
        """Content digests of all files."""
        paths = dict.fromkeys(member.recording.path for chain in self.chains for member in chain if member.recording.path is not None)
        return {f"log {path.name}": file_digest(path) for path in paths if path.is_file()}


def open_session(folder: Path, open_file: Callable[[Path], Recording], time: TimeBase | None = None) -> SessionRecording:
    """Open all recordings in a folder; `time` is what gives time in its files.

    Where every file begins after the end of the one before, stamps are kept: one clock ran through. A file whose stamps begin anew is
    placed a pause after the end of the one before, and that is told.
    """
    paths, opening = recordings_in(folder)
    if not paths:
        raise BadInput(folder, "holds no recording: expected text (CSV), Parquet or MDF files, plain or packed")
    factor = time.factor if time is not None else 1.0
    recordings = [open_file(path) for path in paths]
    chains = _chains([member for recording in recordings for member in members_of(recording, time)], factor)
    if not chains:
        raise BadInput(folder, "the log is empty: expected at least one row of numbers in one of its files")
    groups = tuple(replace(chain[0].whole, name=name) for chain, name in zip(chains, _names(chains), strict=True))
    opening += [_of_file(notice, recording) for recording in recordings for notice in recording.opening]
    opening += [notice for chain in chains for notice in _begins(chain, factor)]
    more = f" and {len(paths) - _TOLD} more" if len(paths) > _TOLD else ""
    facts = {"format": f"folder of {len(paths)} files", "files": ", ".join(path.name for path in paths[:_TOLD]) + more}
    return SessionRecording(str(folder), groups, folder, "sample", facts, opening, chains=chains)


def _chains(members: Sequence[Member], factor: float) -> tuple[tuple[Member, ...], ...]:
    alike: dict[tuple[str, str, frozenset[str]], list[Member]] = {}
    for member in members:
        if member.extent:
            alike.setdefault((member.whole.name, member.whole.clock, frozenset(member.whole.names)), []).append(member)
    return tuple(tuple(chain) for chain in _side_by_side([chained(chain, factor) for chain in alike.values()]))


def _side_by_side(chains: list[list[Member]]) -> list[list[Member]]:
    """Files that begin anew together stay together: the k-th of each group begins when the latest k-th does."""
    anew = [chain for chain in chains if len(chain) > 1 and any(member.shift for member in chain)]
    if len(anew) < 2 or len({len(chain) for chain in anew}) > 1:  # noqa: PLR2004 - nothing beside, or not file for file
        return chains
    latest = [max(each[at].shift for each in anew) for at in range(len(anew[0]))]
    return [[replace(member, shift=latest[at]) for at, member in enumerate(chain)] if chain in anew else chain for chain in chains]


def _placed(block: Block, member: Member, total: int) -> Block:
    numbers = dict(block.numbers)
    if member.clock in numbers and member.shift:
        numbers[member.clock] = numbers[member.clock] + member.shift
    stamps = block.stamps if block.stamps is None else block.stamps + member.shift
    done = (member.before + member.extent * block.done) / total
    return replace(block, numbers=numbers, lines=block.lines + member.before, done=min(1.0, done), stamps=stamps)


def _names(chains: Sequence[Sequence[Member]]) -> list[str]:
    """Own name of the group, else that of its first file; "" where there is one only."""
    if len(chains) == 1:
        return [""]
    made: list[str] = []
    for chain in chains:
        name = chain[0].whole.name or chain[0].file.partition(".")[0]
        while name in made:
            name += " more"
        made.append(name)
    return made


def _of_file(notice: Notice, recording: Recording) -> Notice:
    return replace(notice, text=f"{Path(recording.name).name}: {notice.text}")


def _begins(chain: Sequence[Member], factor: float) -> Iterator[Notice]:
    """Where each file begins whose stamps begin anew; that files without stamps were joined."""
    origin = chain[0].first
    for before, member in pairwise(chain):
        if np.isnan(member.first):
            yield Notice("file joined", "", np.nan, 0.0, f"{member.file} goes on after {before.file}, by name: neither has stamps")
        elif member.shift != before.shift:
            start = (member.first + member.shift - origin) * factor
            text = f"{member.file} begins at {start:.3f} s, after {before.file}: its stamps begin anew"
            yield Notice("file begins", "", start, 0.0, text)

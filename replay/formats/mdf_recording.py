"""An ASAM MDF file (ASAM MDF 4, and 3 as far as the library reads it): groups with clocks of their own, read fragment by fragment."""

from __future__ import annotations

import re
import shutil
import tempfile
import weakref
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.formats.csv_numbers import WrongCell
from replay.formats.foreign_reader import each, needs, opened, reading
from replay.formats.mdf_samples import Samples, as_floats, as_texts
from replay.formats.packed_file import PackedFile, packed_file
from replay.formats.unit_in_name import unit_in_name
from replay.recording import Block, Column, Group, Recording

FRAGMENT: Final = 4 << 20  # bytes of records a block
_KIND: Final = "MDF"
_TIME: Final = 1  # kind of master channel (ASAM MDF 4.1, cn_sync_type)
_COMMENT: Final = re.compile(r"<TX>(.*?)</TX>", re.DOTALL)
_LONGEST_FACT: Final = 300  # characters


@dataclass
class MdfRecording(Recording):
    """An MDF file; opened by `open_mdf`. `file` is the library's; `at` are the library's indices of groups and channels."""

    file: Any = field(kw_only=True)
    at: tuple[tuple[int, tuple[int, ...]], ...] = field(kw_only=True)

    def blocks(self, group: int, numbers: Sequence[str], texts: Sequence[str] = ()) -> Iterator[Block]:
        """A fresh pass over one group."""
        inner = self.file._mdf  # noqa: SLF001 - the library has no public pass over all channels of a group, each fragment unpacked once
        index, channels = self.at[group]
        places = {name: channels[self.groups[group].names.index(name)] for name in (*numbers, *texts)}
        with reading(self.name, _KIND):
            held = inner.groups[index]
            samples = max(int(held.channel_group.cycles_nr), 1)
            fragments = inner._load_data(held)  # noqa: SLF001 - as above
        before = 0
        for fragment in each(fragments, self.name, _KIND):
            with reading(self.name, _KIND):
                getattr(inner, "_invalidation_cache", {}).clear()
                found = {name: _samples(self.file, index, place, fragment) for name, place in places.items()}
                stamps = _stamps(inner, index, fragment) if self.groups[group].clock else None
                count = len(stamps) if stamps is not None else self._count(inner, index, fragment)
            if not count:
                continue
            lines = np.arange(before, before + count)
            values = {name: self._numbers(found[name], name, group, lines) for name in numbers}
            with reading(self.name, _KIND):
                words = {name: as_texts(found[name]) for name in texts}
                self._same_length(count, values, words)
            before += count
            yield Block(values, words, lines, min(1.0, before / samples), stamps)
        if before < int(held.channel_group.cycles_nr):
            raise BadInput(self.name, f"is cut off: {before} of {held.channel_group.cycles_nr} samples of group {index + 1} are there")

    def _numbers(self, found: Samples, name: str, group: int, lines: NDArray[np.int64]) -> NDArray[np.float64]:
        try:
            with reading(self.name, _KIND):
                return as_floats(found)
        except WrongCell as wrong:
            place = self.place(group, int(lines[min(wrong.index, len(lines) - 1)]))
            raise BadInput(place, f"channel {name!r}: expected {wrong.expected}, came {wrong.came!r}") from None

    @staticmethod
    def _count(inner: Any, index: int, fragment: Any) -> int:
        channel_group = inner.groups[index].channel_group
        size = int(channel_group.samples_byte_nr) + int(getattr(channel_group, "invalidation_bytes_nr", 0) or 0)
        return len(_records(fragment)[0]) // max(size, 1)

    @staticmethod
    def _same_length(count: int, *columns: dict[str, NDArray[Any]]) -> None:
        for name, values in (pair for held in columns for pair in held.items()):
            if len(values) != count:
                raise ValueError(f"channel {name!r} has {len(values)} samples where its group has {count}")


def open_mdf(packed: PackedFile | Path) -> MdfRecording:
    """Open an MDF file; BadInput when it is damaged or cut off."""
    source = packed_file(packed) if isinstance(packed, Path) else packed
    name = str(source.path)
    needs("asammdf", "mdf", name, "an MDF file")
    recording = MdfRecording(name, (), source.path, "sample", file=None, at=())
    content = source.on_disk(recording)
    scratch = tempfile.mkdtemp(prefix="dualduty_mdf_")
    weakref.finalize(recording, shutil.rmtree, scratch, ignore_errors=True)
    file = opened(lambda: _library_file(content, scratch), name, _KIND)
    weakref.finalize(recording, file.close)
    with reading(name, _KIND):
        file.configure(read_fragment_size=FRAGMENT)
        recording.file = file
        recording.groups, recording.at = _groups(file)
        recording.facts = _facts(source, file)
    if not recording.groups:
        raise BadInput(name, "the log is empty: expected at least one group with a channel")
    return recording


def _library_file(content: Path, scratch: str) -> Any:
    """A file that was not closed properly is mended by the library in a copy of its own, in the folder `scratch`."""
    from asammdf import MDF

    return MDF(str(content), temporary_folder=scratch)


def _groups(file: Any) -> tuple[tuple[Group, ...], tuple[tuple[int, tuple[int, ...]], ...]]:
    found: list[tuple[str, str, int, list[int]]] = []
    for index, held in enumerate(file.groups):
        master = file.masters_db.get(index)
        clocked = master is not None and _is_time(held.channels[master])
        plain = [at for at in range(len(held.channels)) if _is_plain(held, at) and not (clocked and at == master)]
        if plain:
            clock = str(held.channels[master].name) if clocked else ""
            said = str(getattr(held.channel_group, "acq_name", "") or "").strip()
            found.append((said or f"group {index + 1}", clock, index, plain))
    names = _told_apart([name for name, *_ in found])
    groups = tuple(
        Group(name if len(found) > 1 else "", tuple(_column(file.groups[index].channels[at]) for at in plain), clock)
        for name, (_, clock, index, plain) in zip(names, found, strict=True)
    )
    return groups, tuple((index, tuple(plain)) for _, _, index, plain in found)


def _is_time(master: Any) -> bool:
    return getattr(master, "sync_type", _TIME) == _TIME


def _is_plain(held: Any, at: int) -> bool:
    """One value a sample: no array, no structure (its members are channels of their own)."""
    return not held.channel_dependencies[at]


def _told_apart(names: list[str]) -> list[str]:
    """A name that occurs again is counted."""
    seen: Counter[str] = Counter()
    made: list[str] = []
    for name in names:
        seen[name] += 1
        told = name if seen[name] == 1 else f"{name} {seen[name]}"
        while told in made:
            seen[name] += 1
            told = f"{name} {seen[name]}"
        made.append(told)
    return made


def _column(channel: Any) -> Column:
    conversion = channel.conversion
    unit = str((conversion and getattr(conversion, "unit", "")) or getattr(channel, "unit", "") or "").strip()
    return Column(str(channel.name), unit or unit_in_name(str(channel.name)))


def _samples(file: Any, group: int, channel: int, fragment: Any) -> Samples:
    values, invalid = file.get(group=group, index=channel, data=fragment, raw=True, samples_only=True, ignore_invalidation_bits=True)
    return Samples(values, None if invalid is None else np.asarray(invalid, dtype=bool), file.groups[group].channels[channel].conversion)


def _stamps(inner: Any, group: int, fragment: Any) -> NDArray[np.float64]:
    _, offset, count = _records(fragment)
    stamps = inner.get_master(group, data=fragment, record_offset=offset, record_count=count, one_piece=True)
    return np.array(stamps, dtype=np.float64)


def _records(fragment: Any) -> tuple[bytes, int, int]:
    """Bytes of the records, index of the first, and how many: an object for MDF 4, a tuple for MDF 3."""
    return fragment if isinstance(fragment, tuple) else (fragment.data, fragment.record_offset, fragment.record_count)


def _facts(source: PackedFile, file: Any) -> dict[str, str]:
    facts = {"format": f"{_KIND} {file.version}" + (f", {source.told}" if source.packing else "")}
    start = getattr(file, "start_time", None)
    if start is not None:
        facts["start"] = start.isoformat()
    header = file.header
    for key in ("author", "department", "project", "subject", "comment"):
        said = getattr(header, key, "")
        if isinstance(said, bytes):
            said = said.decode("latin-1").strip("\0")
        text = _COMMENT.search(str(said or ""))
        told = " ".join((text[1] if text else str(said or "")).split())[:_LONGEST_FACT]
        told = "" if told.startswith("<") else told
        facts |= {key: told} if told else {}
    left_out = sum(not _is_plain(held, at) for held in file.groups for at in range(len(held.channels)))
    return facts | ({"left out": f"{left_out} channels of arrays or structures"} if left_out else {})

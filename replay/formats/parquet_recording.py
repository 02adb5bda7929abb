"""A Parquet file: one clock, read in batches of samples, and only the columns asked for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.formats.arrow_columns import as_floats, as_texts, is_flat, is_stamp
from replay.formats.csv_numbers import WrongCell
from replay.formats.foreign_reader import each, needs, reading
from replay.formats.packed_file import PackedFile, packed_file
from replay.formats.unit_in_name import unit_in_name
from replay.recording import Block, Column, Group, Recording

PART: Final = 32_768  # samples a block
_BUFFER: Final = 1 << 20  # bytes of each column held while a row group is read; without it whole row groups are
_KIND: Final = "Parquet"
_UNIT_KEYS: Final = ("unit", "units")
_LONGEST_FACT: Final = 300  # characters
_OWN_KEYS: Final = ("pandas", "ARROW:schema")  # what libraries tell themselves


@dataclass
class ParquetRecording(Recording):
    """A Parquet file; opened by `open_parquet`."""

    content: Path = field(kw_only=True)  # unpacked

    def blocks(self, group: int, numbers: Sequence[str], texts: Sequence[str] = ()) -> Iterator[Block]:
        """A fresh pass over the row groups."""
        wanted = list(dict.fromkeys([*numbers, *texts]))
        before = 0
        with reading(self.name, _KIND):
            file = _opened(self.content)
        with file:
            samples = max(file.metadata.num_rows, 1)
            batches = file.iter_batches(batch_size=PART, columns=wanted or [self.groups[0].names[0]])
            for batch in each(batches, self.name, _KIND):
                lines = np.arange(before, before + batch.num_rows)
                before += batch.num_rows
                with reading(self.name, _KIND):
                    columns = {name: batch.column(batch.schema.get_all_field_indices(name)[0]) for name in wanted}
                    values = {name: self._numbers(columns[name], name, lines) for name in numbers}
                    words = {name: as_texts(columns[name]) for name in texts}
                yield Block(values, words, lines, min(1.0, before / samples))

    def _numbers(self, column: Any, name: str, lines: NDArray[np.int64]) -> NDArray[np.float64]:
        try:
            return as_floats(column)
        except WrongCell as wrong:
            place = self.place(0, int(lines[wrong.index]))
            raise BadInput(place, f"column {name!r}: expected {wrong.expected}, came {wrong.came!r}") from None


def open_parquet(packed: PackedFile | Path) -> ParquetRecording:
    """Open a Parquet file; BadInput when it is damaged or encrypted."""
    source = packed_file(packed) if isinstance(packed, Path) else packed
    name = str(source.path)
    needs("pyarrow", "parquet", name, "a Parquet file")
    recording = ParquetRecording(name, (), source.path, "sample", content=source.path)
    recording.content = source.on_disk(recording)
    with reading(name, _KIND), _opened(recording.content) as file:
        schema, metadata = file.schema_arrow, file.metadata
        flat = [entry for entry in schema if is_flat(entry.type)]
        recording.groups = (Group("", tuple(Column(entry.name, _unit(entry)) for entry in flat)),)
        recording.facts = _facts(source, metadata, schema, len(schema) - len(flat))
    if not recording.groups[0].columns:
        raise BadInput(name, "the log is empty: expected at least one column of plain values")
    return recording


def _opened(path: Path) -> Any:
    import pyarrow.parquet as pq

    return pq.ParquetFile(path, pre_buffer=False, buffer_size=_BUFFER, page_checksum_verification=True)


def _unit(entry: Any) -> str:
    if is_stamp(entry.type):
        return "s"
    said = {key.decode("utf-8", "replace").casefold(): value for key, value in (entry.metadata or {}).items()}
    unit = next((said[key].decode("utf-8", "replace").strip() for key in _UNIT_KEYS if key in said), "")
    return unit or unit_in_name(entry.name)


def _facts(source: PackedFile, metadata: Any, schema: Any, nested: int) -> dict[str, str]:
    facts = {
        "format": _KIND + (f", {source.told}" if source.packing else ""), "samples": str(metadata.num_rows),
        "row groups": str(metadata.num_row_groups), "written by": str(metadata.created_by or "not said"),
    }  # fmt: skip
    if nested:
        facts["left out"] = f"{nested} columns of lists or structures"
    stamps = [entry.name for entry in schema if is_stamp(entry.type)]
    facts |= {f"column {name!r}": "date and time, read as seconds since 1970-01-01 UTC" for name in stamps}
    for key, value in (schema.metadata or {}).items():
        told = key.decode("utf-8", "replace")
        if told not in _OWN_KEYS:
            facts[told] = value.decode("utf-8", "replace")[:_LONGEST_FACT]
    return facts

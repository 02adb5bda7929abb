"""A text file of numbers in columns, as loggers and spreadsheets write them; read in blocks, and only the columns asked for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.formats.csv_body import Body, scan_body
from replay.formats.csv_cells import BLANKS, NO_VALUE_SPELLED, cells_of
from replay.formats.csv_head import Head, read_head
from replay.formats.csv_numbers import StampReader, WrongCell, as_numbers
from replay.formats.file_form import FileForm
from replay.formats.packed_file import PackedFile, packed_file
from replay.formats.plain_text import PlainText, encoding_of, plain_text
from replay.recording import Block, Group, Recording

if TYPE_CHECKING:
    import pandas as pd

PART: Final = 50_000  # samples a block
_HEAD_BYTES: Final = 1 << 18
_MOST_HEAD_LINES: Final = 2000


@dataclass
class CsvRecording(Recording):
    """A text file; opened by `open_csv`."""

    packed: PackedFile = field(kw_only=True)
    encoding: str = field(kw_only=True)
    head: Head = field(kw_only=True)
    body: Body = field(kw_only=True)

    def blocks(self, group: int, numbers: Sequence[str], texts: Sequence[str] = ()) -> Iterator[Block]:
        """A fresh pass over the lines."""
        with plain_text(self.packed, self.encoding, self.body.end) as text:
            yield from _Pass(self, numbers, texts).blocks(text)


class _Pass:
    """One pass over the lines, for some of the columns."""

    def __init__(self, recording: CsvRecording, numbers: Sequence[str], texts: Sequence[str]) -> None:
        self._recording = recording
        self._head, self._body = recording.head, recording.body
        self._numbers = {name: self._head.names.index(name) for name in numbers}
        self._texts = {name: self._head.names.index(name) for name in texts}
        self._readers = {at: StampReader(self._head.stamps[at]) for at in self._numbers.values() if at in self._head.stamps}

    def blocks(self, text: PlainText) -> Iterator[Block]:
        """All blocks."""
        for frame in self._frames(text):
            lines = frame.index.to_numpy(dtype=np.int64) + self._head.lines_above + 1
            if len(self._body.blank):
                frame, lines = self._without_blank_lines(frame, lines)  # noqa: PLW2901 - the same frame, fewer lines
            if not len(lines):
                continue
            columns = {name: self._column(frame, at, lines) for name, at in self._numbers.items()}
            words = {name: _words(frame[at]) for name, at in self._texts.items()}
            yield Block(columns, words, lines, text.share)

    def _options(self) -> dict[str, Any]:
        used = sorted({*self._numbers.values(), *self._texts.values()})
        as_text = {*self._texts.values(), *self._readers}  # numbers are found twice as fast as they are demanded
        return {
            "header": None, "names": list(range(len(self._head.columns))), "usecols": used or [0],
            "dtype": dict.fromkeys(as_text, "str"), "index_col": False,
            "sep": r"\s+" if self._head.delimiter == BLANKS else self._head.delimiter,
            "skiprows": self._head.lines_above, "skip_blank_lines": False, "skipinitialspace": self._head.delimiter not in ("\t", BLANKS),
            "low_memory": False, "chunksize": PART, "encoding": "utf-8", "encoding_errors": "replace",
            "decimal": "," if self._body.decimal_comma else ".", "keep_default_na": False, "na_values": NO_VALUE_SPELLED,
        }  # fmt: skip

    def _frames(self, text: PlainText) -> Iterator[pd.DataFrame]:
        import pandas as pd

        try:
            with pd.read_csv(text, **self._options()) as frames:
                yield from frames
        except pd.errors.EmptyDataError:
            return
        except BadInput:
            raise
        except (ValueError, IndexError, OverflowError, pd.errors.ParserError) as error:
            raise BadInput(self._recording.name, f"can't be read as rows of numbers: {error}") from None

    def _without_blank_lines(self, frame: pd.DataFrame, lines: NDArray[np.int64]) -> tuple[pd.DataFrame, NDArray[np.int64]]:
        first, last = np.searchsorted(self._body.blank, [lines[0], lines[-1] + 1]) if len(lines) else (0, 0)
        if first == last:
            return frame, lines
        holds = ~np.isin(lines, self._body.blank[first:last], assume_unique=True)
        return frame[holds], lines[holds]

    def _column(self, frame: pd.DataFrame, at: int, lines: NDArray[np.int64]) -> NDArray[np.float64]:
        try:
            if at in self._readers:
                return self._readers[at].seconds(frame[at])
            return as_numbers(frame[at], self._body.decimal_comma)
        except WrongCell as wrong:
            line = int(lines[wrong.index])
            came = self._cell(line, at) or wrong.came
            raise BadInput(
                self._recording.place(0, line), f"column {self._head.names[at]!r}: expected {wrong.expected}, came {came!r}"
            ) from None

    def _cell(self, line: int, at: int) -> str:
        """A cell as it stands in the file."""
        import io

        with plain_text(self._recording.packed, self._recording.encoding) as text:
            found = next(islice(io.BufferedReader(text, 1 << 20), line - 1, line), b"").decode("utf-8", errors="replace")
        cells = cells_of(found.rstrip("\n"), self._head.delimiter)
        return cells[at] if at < len(cells) else ""


def open_csv(packed: PackedFile | Path, form: FileForm | None = None) -> CsvRecording:
    """Open a text file; BadInput when it is empty, or has a line with more or fewer fields than columns, other than a cut-off last one."""
    source = packed_file(packed) if isinstance(packed, Path) else packed
    form = form or FileForm()
    name = str(source.path)
    encoding = form.encoding or encoding_of(source)
    with plain_text(source, encoding) as text:
        lines = _first_lines(text)
    head = read_head(lines, form, name)
    with plain_text(source, encoding) as text:
        body = scan_body(text, name, len(head.columns), head.delimiter, (head.lines_above, head.decimal_comma))
    facts = {"format": "text" + (f", {source.told}" if source.packing else ""), "encoding": encoding} | head.facts()
    return CsvRecording(
        name, (Group("", head.columns),), source.path, facts=facts, opening=list(body.notices),
        packed=source, encoding=encoding, head=head, body=body,
    )  # fmt: skip


def _first_lines(text: PlainText) -> list[str]:
    """The first lines without the last one, unless the file ends with it."""
    parts: list[bytes] = []
    size = 0
    while size < _HEAD_BYTES and (part := text.read(_HEAD_BYTES)):
        parts.append(part)
        size += len(part)
    whole = b"".join(parts)
    lines = whole.partition(b"\0")[0].decode("utf-8", errors="replace").split("\n")
    if size >= _HEAD_BYTES and len(lines) > 1:
        lines.pop()
    while lines and not lines[-1]:
        lines.pop()
    return lines[:_MOST_HEAD_LINES]


def _words(column: pd.Series[Any]) -> NDArray[Any]:
    """Text, None where blank."""
    found: NDArray[Any] = np.array(column, dtype=object)
    found[column.isna().to_numpy(dtype=bool)] = None
    return found

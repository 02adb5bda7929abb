"""A recording in a CSV file, read in blocks; memory doesn't grow with its length."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NoReturn

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.csv_fields import last_line, uneven_line
from replay.csv_head import Head, read_head
from replay.file_form import FileForm
from replay.notice import Notice
from replay.recording import Block, Column, Group, Recording

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
PART: Final = 50_000  # rows a block


@dataclass
class CsvRecording(Recording):
    """A CSV file; opened by `open_csv`."""

    head: Head = field(default_factory=lambda: Head((), (), ",", 0))
    decimal_comma: bool = False
    last_line: int = 0  # beyond it nothing is read; 0: all

    def blocks(self, group: int, numbers: Sequence[str], texts: Sequence[str] = ()) -> Iterator[Block]:
        """A fresh pass over the rows."""
        import pandas as pd

        assert self.path is not None  # noqa: S101 - opened from a path
        size = max(self.path.stat().st_size, 1)
        try:
            with self.path.open("rb") as file, pd.read_csv(file, **self._options(numbers, texts)) as frames:
                for frame in frames:
                    yield self._block(self._kept(frame), numbers, texts, min(1.0, file.tell() / size))
        except pd.errors.EmptyDataError:
            return
        except (ValueError, IndexError, OverflowError, pd.errors.ParserError) as error:
            self._refuse(error)

    def _options(self, numbers: Sequence[str], texts: Sequence[str]) -> dict[str, Any]:
        at = {name: index for index, name in reversed(list(enumerate(self.head.columns)))}
        return {
            "header": None, "names": list(range(len(self.head.columns))), "usecols": sorted({at[name] for name in (*numbers, *texts)}),
            "dtype": {at[name]: str for name in texts}, "index_col": False, "sep": self.head.delimiter, "skiprows": self.head.lines_above,
            "skip_blank_lines": False, "skipinitialspace": True, "low_memory": False, "chunksize": PART, "encoding": "utf-8",
            "encoding_errors": "replace", "decimal": "," if self.decimal_comma else ".",
        }  # fmt: skip

    def _kept(self, frame: pd.DataFrame) -> pd.DataFrame:
        if not self.last_line or not len(frame):
            return frame
        return frame.iloc[: max(0, self.last_line - self.head.lines_above - int(frame.index[0]))]

    def _block(self, frame: pd.DataFrame, numbers: Sequence[str], texts: Sequence[str], done: float) -> Block:
        at = {name: index for index, name in reversed(list(enumerate(self.head.columns)))}
        lines = frame.index.to_numpy(dtype=np.int64) + self.head.lines_above + 1
        found = {name: self._numbers(frame, at[name], name) for name in numbers}
        said = {name: frame[at[name]].to_numpy(dtype=object) for name in texts}
        return Block(found, said, lines, done)

    def _numbers(self, frame: pd.DataFrame, at: int, name: str) -> Array:
        values = frame[at]
        if len(values) and values.dtype.kind not in "iuf":
            self._refuse(ValueError(f"column {name!r} holds text"))
        return np.ascontiguousarray(values.to_numpy(dtype=np.float64))

    def _refuse(self, error: Exception) -> NoReturn:
        raise BadInput(self.name, f"can't be read as rows of numbers: {error}") from None


def open_csv(path: Path, form: FileForm) -> CsvRecording:
    """Open a CSV file; BadInput when it is empty or has an uneven line."""
    head = read_head(path, form.lines_below_header or 0)
    group = Group("", tuple(Column(name) for name in head.columns))
    recording = CsvRecording(str(path), (group,), path, head=head, decimal_comma=bool(form.decimal_comma))
    uneven = uneven_line(path, head)
    if uneven is None:
        return recording
    line, fields = uneven
    text = f"{fields} of {len(head.columns)} fields"
    if fields > len(head.columns) or line < last_line(path):
        raise BadInput(f"{path} line {line}", f"{text}: expected one field for each column of the header")
    recording.last_line = line - 1
    recording.opening.append(Notice("cut line", "", np.nan, 0.0, f"line {line} left out: {text}, the log was cut off while it was written"))
    return recording

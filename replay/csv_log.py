"""A log in a CSV file, read in parts through a channel map; memory doesn't grow with its length."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NoReturn

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.array_log import fill_row
from replay.channel_map import ChannelMap, resolve
from replay.csv_fields import last_line, uneven_line
from replay.csv_head import Head, read_head
from replay.log import Log, LogPart, Notice, file_digest, mode_indices

if TYPE_CHECKING:
    from typing import BinaryIO

    import pandas as pd

Array = NDArray[np.float64]
PART: Final = 50_000  # rows a part
_EMPTY_HEAD: Final = Head((), (), ",", 0)


@dataclass
class CsvLog(Log):
    """A CSV file set against a channel map; opened by `open_csv`."""

    path: Path = field(default_factory=Path)
    head: Head = _EMPTY_HEAD
    last_line: int = 0  # beyond it nothing is read; 0: all

    @cached_property
    def digests(self) -> dict[str, str]:
        """Content digests of the log and of its channel map."""
        named = {"log": self.path, "channel map": Path(self.channel_map.file)}
        return {name: file_digest(path) for name, path in named.items() if path.is_file()}

    def read(self) -> Iterator[LogPart]:
        """A fresh pass over the samples, unchecked."""
        size = max(self.path.stat().st_size, 1)
        with self.path.open("rb") as file:
            origin: float | None = None
            for frame in self._frames(file):
                part = self._part(frame, origin, min(1.0, file.tell() / size))
                if len(part.time):
                    origin = float(part.stamps[0] - 0.0) if origin is None else origin
                    yield part

    def at(self, column: str) -> int:
        """Index of a column."""
        return self.head.columns.index(column)

    @cached_property
    def _numeric(self) -> list[int]:
        named = [self.resolved.time_column, *(found.column for found in self.resolved.found)]
        return sorted({self.at(column) for column in named if column})

    def options(self, *, as_text: bool = False) -> dict[str, Any]:
        """How pandas is to read the file: only the columns used."""
        mode = [self.at(self.resolved.mode_column)] if self.resolved.mode_column else []
        text = [*mode, *self._numeric] if as_text else mode  # numbers are found twice as fast as they are demanded
        return {
            "header": None, "names": list(range(len(self.head.columns))), "usecols": sorted({*self._numeric, *mode}),
            "dtype": dict.fromkeys(text, str), "index_col": False,
            "sep": self.head.delimiter, "skiprows": self.head.lines_above, "skip_blank_lines": False, "skipinitialspace": True,
            "low_memory": False,
            "chunksize": PART, "encoding": "utf-8", "encoding_errors": "replace", "decimal": "," if self.channel_map.decimal_comma else ".",
        }  # fmt: skip

    def _frames(self, file: BinaryIO) -> Iterator[pd.DataFrame]:
        import pandas as pd

        try:
            with pd.read_csv(file, **self.options()) as frames:
                for frame in frames:
                    yield self._kept(frame)
        except pd.errors.EmptyDataError:
            return
        except (ValueError, IndexError, OverflowError, pd.errors.ParserError) as error:
            self._refuse(error)

    def _kept(self, frame: pd.DataFrame) -> pd.DataFrame:
        """The rows up to the last whole line."""
        if not self.last_line or not len(frame):
            return frame
        return frame.iloc[: max(0, self.last_line - self.head.lines_above - int(frame.index[0]))]

    def _refuse(self, error: Exception) -> NoReturn:
        from replay.csv_fault import first_text

        fault = first_text(self, self._numeric)
        if fault is None:
            raise BadInput(self.name, f"can't be read as rows of numbers: {error}") from None
        line, column, came = fault
        raise BadInput(f"{self.name} line {line}", f"column {self.head.columns[column]!r}: expected a number, came {came!r}") from None

    def _part(self, frame: pd.DataFrame, origin: float | None, done: float) -> LogPart:
        lines = frame.index.to_numpy(dtype=np.int64) + self.head.lines_above + 1
        values = np.full((self.layout.size, len(frame)), np.nan)
        for found in self.resolved.found:
            fill_row(values[found.row], self._numbers(frame, found.column), found.channel)
        time = self.channel_map.time
        if self.resolved.time_column:
            stamps = self._numbers(frame, self.resolved.time_column)
        else:
            stamps = frame.index.to_numpy(dtype=np.float64) / time.rate
        part = LogPart(stamps, stamps, values, self._mode(frame, lines), lines, done)
        part = _without_blank_lines(part) if np.isnan(stamps).any() else part
        first = origin if origin is not None else float(part.stamps[0]) if len(part.stamps) else 0.0
        with np.errstate(over="ignore", invalid="ignore"):
            return replace(part, time=(part.stamps - first) * time.factor)

    def _numbers(self, frame: pd.DataFrame, column: str) -> Array:
        values = frame[self.at(column)]
        if len(values) and values.dtype.kind not in "iuf":
            self._refuse(ValueError(f"column {column!r} holds text"))
        return np.ascontiguousarray(values.to_numpy(dtype=np.float64))

    def _mode(self, frame: pd.DataFrame, lines: NDArray[np.int64]) -> NDArray[np.int16]:
        if not self.resolved.mode_column:
            return np.zeros(len(frame), dtype=np.int16)
        column = frame[self.at(self.resolved.mode_column)]
        return mode_indices(self.channel_map, column, lambda index: f"{self.name} line {lines[index]}")


def _without_blank_lines(part: LogPart) -> LogPart:
    """A part without the rows that hold nothing at all: blank lines."""
    blank_cells = np.isnan(part.values)
    holds = ~(np.isnan(part.stamps) & blank_cells.all(axis=0))
    return LogPart(part.stamps[holds], part.stamps[holds], part.values[:, holds], part.mode[holds], part.lines[holds], part.done)  # noqa: PD011 - no frame


def open_csv(path: Path | str, channel_map: ChannelMap, *, forgive_cut_end: bool = False) -> CsvLog:
    """Open a CSV log; BadInput when it is empty, has an uneven or cut line, or lacks its time or mode column.

    With `forgive_cut_end` a last line with too few fields is left out with a notice. Signals that the map names and
    the log lacks are listed in `resolved.missing`; whether that matters is up to the strategy.
    """
    path = Path(path)
    head = read_head(path, channel_map.lines_below_header)
    log = CsvLog(str(path), channel_map, resolve(channel_map, head.columns, str(path)), path=path, head=head)
    uneven = uneven_line(path, head)
    if uneven is None:
        return log
    line, fields = uneven
    text = f"{fields} of {len(head.columns)} fields"
    if fields > len(head.columns) or line < last_line(path):
        raise BadInput(f"{path} line {line}", f"{text}: expected one field for each column of the header")
    if not forgive_cut_end:
        raise BadInput(f"{path} line {line}", f"last line has {text}: the log was cut off while it was written; leave the line out")
    log.last_line = line - 1
    log.opening.append(Notice("cut line", "", np.nan, 0.0, f"line {line} left out: {text}, the log was cut off while it was written"))
    return log

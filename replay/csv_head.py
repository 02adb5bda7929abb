"""What stands above the numbers of a CSV log."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TextIO

from dualduty.errors import BadInput

DELIMITERS: Final = (",", ";", "\t")
_LONGEST_LINE: Final = 1 << 20  # characters; a longer first line is no CSV


@dataclass(frozen=True)
class Head:
    """Comment lines, column names, the delimiter, and how many lines stand above the first row of numbers."""

    preamble: tuple[str, ...]
    columns: tuple[str, ...]
    delimiter: str
    lines_above: int


def read_head(path: Path, lines_below_header: int = 0) -> Head:
    """Read down to the header: the first line that is neither empty nor a comment (`#`)."""
    try:
        with path.open(encoding="utf-8-sig", errors="replace") as file:
            return _head(file, path, lines_below_header)
    except OSError as error:
        raise BadInput(path, f"can't be read: {error.strerror or error}") from None


def _head(file: TextIO, path: Path, lines_below_header: int) -> Head:
    preamble: list[str] = []
    while line := file.readline(_LONGEST_LINE):
        _refuse_binary(line, path)
        if line.strip() and not line.startswith("#"):
            delimiter = max(DELIMITERS, key=line.count)
            above = len(preamble) + 1 + lines_below_header
            return Head(tuple(text for text in preamble if text), _names(line, delimiter), delimiter, above)
        preamble.append(line.lstrip("#").strip())
    raise BadInput(path, "the log is empty: expected a line of column names and rows of numbers")


def _refuse_binary(line: str, path: Path) -> None:
    if "\0" in line or len(line) >= _LONGEST_LINE:
        raise BadInput(path, "expected UTF-8 text with delimiters, came something else")


def _names(line: str, delimiter: str) -> tuple[str, ...]:
    """Column names without those that are only a delimiter at the end of the line."""
    names = [name.strip() for name in next(csv.reader([line.rstrip("\r\n")], delimiter=delimiter))]
    while len(names) > 1 and not names[-1]:
        names.pop()
    return tuple(names)

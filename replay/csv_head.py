"""What stands above the numbers of a CSV log, and whether its last line was cut off."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from dualduty.errors import BadInput

DELIMITERS: Final = (",", ";", "\t")
_LONGEST_LINE: Final = 1 << 20  # characters; a longer first line is no CSV
_TAIL: Final = 1 << 16  # bytes at the end of the file that must hold its last line


@dataclass(frozen=True)
class Head:
    """Comment lines, column names, the delimiter, and how many lines stand above the first row of numbers."""

    preamble: tuple[str, ...]
    columns: tuple[str, ...]
    delimiter: str
    lines_above: int


def read_head(path: Path, lines_below_header: int = 0) -> Head:
    """Read down to the header: the first line that is neither empty nor a comment (`#`)."""
    preamble: list[str] = []
    above = 0
    try:
        with path.open(encoding="utf-8-sig", errors="replace") as file:
            while line := file.readline(_LONGEST_LINE):
                _refuse_binary(line, path)
                above += 1
                if line.strip() and not line.startswith("#"):
                    delimiter = max(DELIMITERS, key=line.count)
                    return Head(tuple(preamble), _names(line, delimiter), delimiter, above + lines_below_header)
                preamble.append(line.lstrip("#").strip())
    except OSError as error:
        raise BadInput(path, f"can't be read: {error.strerror or error}") from None
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


def cut_end(path: Path, head: Head) -> tuple[int, int] | None:
    """Line number and field count of a last line with fewer fields than there are columns; None when it is whole."""
    size = path.stat().st_size
    with path.open("rb") as file:
        file.seek(max(0, size - _TAIL))
        tail = file.read().decode("utf-8", errors="replace")
    lines = tail.splitlines()
    while lines and not lines[-1].strip():
        lines.pop()
    if not lines:
        return None
    fields = lines[-1].count(head.delimiter) + 1
    if fields >= len(head.columns):
        return None
    number = _last_line(path)
    return (number, fields) if number > head.lines_above else None


def _last_line(path: Path) -> int:
    """Number of the last line that isn't empty."""
    last = 0
    with path.open(encoding="utf-8", errors="replace") as file:
        for number, line in enumerate(file, start=1):
            if line.strip():
                last = number
    return last

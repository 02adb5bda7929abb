"""Marks of a log: a plain CSV file beside it, a row each, read and written."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Final

from dualduty.files import write_text
from replay.marks.mark import ACCEPTED, BUTTON, MARGIN, NOT_STATES, NOTE, OFFLINE, PROPOSED, REJECTED, TRUTH, WATCHED, Mark
from replay.marks.mark_row import ALL_COLUMNS, COLUMNS, FURTHER, cells_of, columns_needed, line_of
from replay.marks.marks_file import MarksFile

__all__ = [
    "ACCEPTED", "BUTTON", "COLUMNS", "MARGIN", "NOTE", "NOT_STATES", "OFFLINE", "PROPOSED", "REJECTED", "TRUTH", "WATCHED", "Mark",
    "marks_path", "read_marks", "write_marks",
]  # fmt: skip

_PACKED: Final = (".gz", ".bz2", ".xz", ".zst", ".zip")  # what a packed log's name ends with, after that of its form


def marks_path(log: Path | str) -> Path:
    """Where the marks of a log lie, beside it: `run7.csv` and `run7.csv.gz` -> `run7.marks.csv`, a folder `run7` likewise."""
    path = Path(log)
    name = path.name if path.is_dir() else Path(path.name.removesuffix(path.suffix) if path.suffix in _PACKED else path.name).stem
    return path.with_name(f"{name}.marks.csv")


def read_marks(path: Path | str) -> list[Mark]:
    """All marks of a file, in its order; BadInput or SeveralBadInputs with line and column."""
    return list(MarksFile.read(path).marks)


def write_marks(path: Path | str, marks: Iterable[Mark]) -> None:
    """Write marks; the file is replaced as a whole or not at all. To change a file that people keep, see `replay.marks.mark_edits`."""
    marks = list(marks)
    columns = ALL_COLUMNS if set(columns_needed(marks)) & set(FURTHER) else COLUMNS
    rows = [[cells_of(mark)[name] for name in columns] for mark in marks]
    write_text(Path(path), "".join(f"{line_of(row)}\n" for row in [columns, *rows]))

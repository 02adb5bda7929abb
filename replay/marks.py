"""Marks: intervals in which someone knows a state to be true; a plain CSV file beside the log."""

from __future__ import annotations

import csv
import difflib
import io
import math
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.files import write_text
from dualduty.signals import ROLES

COLUMNS: Final = ("state", "start_s", "end_s", "corner_or_side", "sure", "who", "note")
WATCHED: Final = "watched"  # not a state: a stretch in which every event was marked; without any, that is the whole log
_SURE: Final = {"yes": True, "no": False, "": True}


@dataclass(frozen=True)
class Mark:
    """One interval, in seconds since the log's first stamp, half open.

    `where` is a corner, axle or side (`front_left`, `rear`, `left`), "" for the whole vehicle; a mark that isn't
    `sure` counts neither as an event to be found nor against a detection.
    """

    state: str
    start: float
    end: float
    where: str = ""
    sure: bool = True
    who: str = ""
    note: str = ""
    row: int = 0

    def to_row(self) -> dict[str, Any]:
        """As a plain dict."""
        return asdict(self)


def marks_path(log: Path | str) -> Path:
    """Where the marks of a log lie: `run7.csv` -> `run7.marks.csv`."""
    path = Path(log)
    return path.with_name(f"{path.stem}.marks.csv")


def read_marks(path: Path | str) -> list[Mark]:
    """All marks of a file, in its order; BadInput or SeveralBadInputs with line and column."""
    path = Path(path)
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except OSError as error:
        raise BadInput(path, f"can't be read: {error.strerror or error}") from None
    except UnicodeDecodeError:
        raise BadInput(path, "expected UTF-8 text") from None
    rows = [(number, line) for number, line in enumerate(lines, start=1) if line.strip() and not line.lstrip().startswith("#")]
    if not rows:
        raise BadInput(path, f"expected the columns {', '.join(COLUMNS)}, came nothing")
    header = _fields(rows[0][1])
    _check_header(header, f"{path} line {rows[0][0]}")
    problems: list[BadInput] = []
    marks = [_mark(header, _fields(line), (path, number), problems) for number, line in rows[1:]]
    if problems:
        raise problems[0] if len(problems) == 1 else SeveralBadInputs(problems)
    return [mark for mark in marks if mark is not None]


def _fields(line: str) -> list[str]:
    return [field.strip() for field in next(csv.reader([line]), [])]


def _check_header(header: list[str], where: str) -> None:
    for name in header:
        if name not in COLUMNS:
            near = difflib.get_close_matches(name, COLUMNS, n=1)
            raise BadInput(
                where, f"unknown column {name!r}" + (f"; did you mean {near[0]!r}?" if near else f"; expected {', '.join(COLUMNS)}")
            )
    if len(set(header)) != len(header):
        raise BadInput(where, "a column occurs twice")
    absent = [name for name in COLUMNS[:3] if name not in header]
    if absent:
        raise BadInput(where, f"missing column {', '.join(absent)}")


def _mark(header: list[str], fields: list[str], at: tuple[Path, int], problems: list[BadInput]) -> Mark | None:
    where = f"{at[0]} line {at[1]}"
    before = len(problems)
    if len(fields) != len(header):
        problems.append(BadInput(where, f"expected {len(header)} fields, came {len(fields)}"))
        return None
    cells = dict(zip(header, fields, strict=True))
    if not cells["state"]:
        problems.append(BadInput(where, "state: expected a name, came nothing"))
    start, end = (_seconds(cells[name], name, where, problems) for name in ("start_s", "end_s"))
    if end <= start:
        problems.append(BadInput(where, f"end_s: {end:g} isn't after start_s {start:g}"))
    role = cells.get("corner_or_side", "").replace("-", "_")
    if role and role not in ROLES:
        problems.append(BadInput(where, f"corner_or_side: expected one of {', '.join(ROLES)} or nothing, came {role!r}"))
    sure = cells.get("sure", "").casefold()
    if sure not in _SURE:
        problems.append(BadInput(where, f"sure: expected yes or no, came {sure!r}"))
    if len(problems) > before:
        return None
    return Mark(cells["state"], start, end, role, _SURE[sure], cells.get("who", ""), cells.get("note", ""), at[1])


def _seconds(text: str, name: str, where: str, problems: list[BadInput]) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        problems.append(BadInput(where, f"{name}: expected seconds since the log's first stamp, came {text!r}"))
    return value


def write_marks(path: Path | str, marks: Iterable[Mark]) -> None:
    """Write marks; the file is replaced as a whole or not at all."""
    path = Path(path)
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for mark in marks:
        writer.writerow(
            [mark.state, _said(mark.start), _said(mark.end), mark.where, "yes" if mark.sure else "no", _line(mark.who), _line(mark.note)]
        )
    write_text(path, text.getvalue())


def _said(seconds: float) -> str:
    return f"{seconds:.6f}".rstrip("0").rstrip(".")


def _line(text: str) -> str:
    """Free text on one line: a row of the file is a line."""
    return " ".join(text.split())

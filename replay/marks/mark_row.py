"""A mark as the fields of one row of a marks file, and back; what a field says wrongly is named with line and column."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from dualduty.errors import BadInput
from dualduty.signals import ROLES
from replay.marks.mark import ACCEPTED, NOTE, STATUSES, Mark

COLUMNS: Final = ("state", "start_s", "end_s", "corner_or_side", "sure", "who", "note")
FURTHER: Final = ("origin", "status", "start_margin_ms", "end_margin_ms")  # a row may end before these
ALL_COLUMNS: Final = (*COLUMNS, *FURTHER)
_SURE: Final = {"yes": 1.0, "no": 0.0, "": 1.0}
_PER_CENT: Final = re.compile(r"(\d+(?:\.\d*)?|\.\d+)\s*(%?)")


def fields_of(line: str) -> list[str]:
    """Fields of a line, without spaces around them; ValueError where the quotes don't close."""
    return [field.strip() for field in next(csv.reader([line], strict=True, skipinitialspace=True), [])]


def mark_of(cells: Mapping[str, str], where: str, row: int = 0) -> tuple[Mark | None, list[BadInput]]:
    """The mark of a row by column name, or None with all that is wrong with it; `where` names file and line."""
    problems: list[BadInput] = []
    if not cells["state"]:
        problems.append(BadInput(where, "state: expected a name, came nothing"))
    start, end = (_seconds(cells[name], f"{where}: {name}", problems) for name in ("start_s", "end_s"))
    if end < start or (end == start and cells["state"] != NOTE):
        problems.append(BadInput(where, f"end_s: {end:g} isn't after start_s {start:g}"))
    role = _role(cells.get("corner_or_side", ""), where, problems)
    sure = _sure(cells.get("sure", ""), where, problems)
    status = cells.get("status", "").casefold() or ACCEPTED
    if status not in STATUSES:
        problems.append(BadInput(where, f"status: expected one of {', '.join(STATUSES)} or nothing, came {cells['status']!r}"))
    soft = [_margin(cells.get(f"{edge}_margin_ms", ""), f"{where}: {edge}_margin_ms", problems) for edge in ("start", "end")]
    if problems:
        return None, problems
    who, note, origin = (cells.get(name, "") for name in ("who", "note", "origin"))
    return Mark(cells["state"], start, end, role, sure, who, note, origin, status, soft[0], soft[1], row), []


def _seconds(text: str, where: str, problems: list[BadInput]) -> float:
    value = _number(text)
    if not math.isfinite(value):
        problems.append(BadInput(where, f"expected seconds since the log's first stamp, came {text!r}"))
    return value


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return math.nan


def _role(text: str, where: str, problems: list[BadInput]) -> str:
    role = text.replace("-", "_")
    if role and role not in ROLES:
        problems.append(BadInput(where, f"corner_or_side: expected one of {', '.join(ROLES)} or nothing, came {role!r}"))
    return role


def _sure(text: str, where: str, problems: list[BadInput]) -> float:
    found = sure_of(text)
    if isinstance(found, str):
        problems.append(BadInput(where, f"sure: {found}"))
        return math.nan
    return found


def sure_of(text: str) -> float | str:
    """How sure as people write it, as a share from 0 to 1; what is wrong with it otherwise."""
    said = text.strip().casefold()
    if said in _SURE:
        return _SURE[said]
    found = _PER_CENT.fullmatch(said)
    value = float(found[1]) if found else math.nan
    problem = f"expected yes, no or 0 to 100 %, came {text!r}"
    if found is None or not 0.0 <= value <= 100.0:  # noqa: PLR2004 - per cent
        return problem
    if not found[2] and 0.0 < value <= 1.0:
        return f"{problem}; did you mean {100 * value:g} %?"
    return round(value / 100.0, 9)  # as it was before it was written


def _margin(text: str, where: str, problems: list[BadInput]) -> float | None:
    if not text:
        return None
    value = _number(text)
    if not 0.0 <= value < math.inf:
        problems.append(BadInput(where, f"expected milliseconds, 0 or more, came {text!r}"))
    return round(value / 1e3, 12)


def cells_of(mark: Mark) -> dict[str, str]:
    """Fields of a mark by column name; microseconds and hundredths of a per cent are kept."""
    return {
        "state": said_on_one_line(mark.state), "start_s": said_number(mark.start), "end_s": said_number(mark.end),
        "corner_or_side": mark.where, "sure": said_sure(mark.sure), "who": said_on_one_line(mark.who),
        "note": said_on_one_line(mark.note), "origin": said_on_one_line(mark.origin), "status": mark.status,
        "start_margin_ms": _said_margin(mark.start_margin), "end_margin_ms": _said_margin(mark.end_margin),
    }  # fmt: skip


def columns_needed(marks: Iterable[Mark]) -> tuple[str, ...]:
    """Columns without which some of these marks would not come back as they are, in the usual order."""
    plain = cells_of(Mark("", 0.0, 0.0))
    needed = {name for mark in marks for name, text in cells_of(mark).items() if text != plain[name]}
    return tuple(name for name in ALL_COLUMNS if name in needed or name in COLUMNS[:3])


def line_of(texts: Sequence[str]) -> str:
    """Fields as a line of the file, quoted where need be, without its end; none reads as a comment."""
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="").writerow(texts)
    line = text.getvalue()
    return f'"{texts[0]}"{line.removeprefix(texts[0])}' if line.startswith("#") else line


def said_number(value: float) -> str:
    """A number with up to six digits after the point, and no more than it has."""
    said = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if said == "-0" else said


def said_sure(sure: float) -> str:
    """How sure, as people write it: yes, no, 80 %."""
    return {1.0: "yes", 0.0: "no"}.get(sure, f"{said_number(round(100.0 * sure, 2))} %")


def _said_margin(margin: float | None) -> str:
    return "" if margin is None else said_number(1e3 * margin)


def said_on_one_line(text: str) -> str:
    """Free text on one line: a row of the file is a line."""
    return " ".join(text.split())

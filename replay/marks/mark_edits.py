"""What people do with the marks of a file: accept, reject, move, add, note; each gives the file anew, `save` writes it.

file = MarksFile.read(path)
file = accept(file, [find(file, "airborne@12.34")], who="KR")
file.save()
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

from dualduty.errors import BadInput
from dualduty.signals import ROLES
from replay.marks.mark import ACCEPTED, NOTE, PROPOSED, REJECTED, Mark
from replay.marks.mark_row import said_number
from replay.marks.marks_file import MarksFile
from replay.marks.propose_marks import new_proposals

REACH: Final = 0.25  # s, how far off a mark's start a name may be
_NAME: Final = re.compile(r"(?P<state>[^@\s]+)@(?P<time>[-+.\deE]+)(?:\s*s)?(?:\s+(?P<where>\S+))?")
_LISTED: Final = 6


def find(file: MarksFile, name: str) -> Mark:
    """The mark that a name means, `state@seconds` or `state@seconds place`: the nearest of that state; BadInput lists near ones."""
    said = _NAME.fullmatch(name.strip())
    time = _seconds(said["time"]) if said else math.nan
    if said is None or not math.isfinite(time):
        raise BadInput(name, "expected the name of a mark, state@seconds, as airborne@12.34, or with a place, as wheel_off@3.2 rear_left")
    where = (said["where"] or "").replace("-", "_")
    mine = [mark for mark in file.marks if mark.state == said["state"] and (not where or mark.where == where)]
    near = sorted((mark for mark in mine if abs(mark.start - time) <= REACH), key=lambda mark: abs(mark.start - time))
    if not near:
        raise BadInput(f"{file.path}: {name}", f"no mark of this name within {REACH:g} s; {_told(mine or file.marks, time)}")
    best = [mark for mark in near if abs(abs(mark.start - time) - abs(near[0].start - time)) <= _SAME]
    if len(best) > 1:
        lines = ", ".join(f"{mark.name} in line {mark.row}" for mark in best[:_LISTED])
        raise BadInput(f"{file.path}: {name}", f"may be several marks: {lines}; name the place, or change the file by hand")
    return near[0]


_SAME: Final = 5e-4  # s; a name has three digits


def _told(marks: Sequence[Mark], time: float) -> str:
    near = sorted(marks, key=lambda mark: abs(mark.start - time))[:_LISTED]
    return f"near it: {', '.join(mark.name for mark in near)}" if near else "the file has no mark"


def _seconds(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return math.nan


def proposed(file: MarksFile, state: str = "") -> list[Mark]:
    """All that waits for a judgement, or what does of one state."""
    return [mark for mark in file.marks if mark.status == PROPOSED and (not state or mark.state == state)]


def accept(file: MarksFile, marks: Iterable[Mark], who: str = "") -> MarksFile:
    """Marks that someone takes for true; their origin stays."""
    return file.with_changes({mark.row: _judged(mark, ACCEPTED, who) for mark in marks})


def reject(file: MarksFile, marks: Iterable[Mark], who: str = "") -> MarksFile:
    """Marks that someone takes for wrong: they stay in the file, so that nobody proposes them again."""
    return file.with_changes({mark.row: _judged(mark, REJECTED, who) for mark in marks})


def _judged(mark: Mark, status: str, who: str) -> Mark:
    if who and mark.who and mark.who != who:
        return replace(mark, status=status, note=_and(mark.note, f"{status} by {who}"))
    return replace(mark, status=status, who=who or mark.who)


def move(file: MarksFile, mark: Mark, start: float | None = None, end: float | None = None, who: str = "") -> MarksFile:
    """A mark with other edges [s]: its origin stays, its note says what was moved, and by whom."""
    moved = replace(mark, start=mark.start if start is None else start, end=mark.end if end is None else end)
    _check(file, moved)
    edges = [
        f"{edge} from {said_number(old)} s"
        for edge, old, new in (("start", mark.start, moved.start), ("end", mark.end, moved.end))
        if old != new
    ]
    if not edges:
        raise BadInput(f"{file.path}: {mark.name}", "expected another start or another end, came neither")
    told = f"moved{f' by {who}' if who else ''}: {', '.join(edges)}"
    return file.with_changes({mark.row: replace(moved, note=_and(mark.note, told))})


def add(file: MarksFile, *marks: Mark) -> MarksFile:
    """Marks that someone makes, at the end of the file."""
    for mark in marks:
        _check(file, mark)
    return file.with_changes({}, marks)


def propose(file: MarksFile, proposals: Iterable[Mark]) -> tuple[MarksFile, list[Mark]]:
    """The file with those proposals that aren't known yet, and these."""
    fresh = new_proposals(proposals, file.marks)
    return (file.with_changes({}, fresh) if fresh else file), fresh


def note(time: float, text: str, who: str = "") -> Mark:
    """A word tied to a time [s]: a mark that counts for nothing."""
    return Mark(NOTE, time, time, who=who, note=text)


def _check(file: MarksFile, mark: Mark) -> None:
    """That a row of it would be read back."""
    place = f"{file.path}: {mark.name}"
    if not math.isfinite(mark.start) or not math.isfinite(mark.end):
        raise BadInput(place, "expected seconds since the log's first stamp")
    if mark.end < mark.start or (mark.end == mark.start and mark.state != NOTE):
        raise BadInput(place, f"its end, {said_number(mark.end)} s, isn't after its start, {said_number(mark.start)} s")
    if not mark.state.strip() or "@" in mark.state or mark.state.strip().startswith("#"):
        raise BadInput(place, f"expected the name of a state, came {mark.state!r}")
    if mark.where and mark.where not in ROLES:
        raise BadInput(place, f"expected one of {', '.join(ROLES)} or no place, came {mark.where!r}")
    if not 0.0 <= mark.sure <= 1.0:
        raise BadInput(place, f"sure: expected 0 to 100 %, came {100 * mark.sure:g} %")


def _and(note: str, more: str) -> str:
    return f"{note}; {more}" if note else more

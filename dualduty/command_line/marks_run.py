"""What the commands about marks do, with everything imported."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

from rich.table import Table

from dualduty.command_line.console import console, counted
from dualduty.errors import BadInput
from dualduty.trial.run_marks import RunMarks
from replay.marks.agreement import Shared, agreed, several_people
from replay.marks.mark import BUTTON, NOT_STATES, NOTE, STATUSES, Mark
from replay.marks.mark_edits import accept, add, find, move, proposed, reject
from replay.marks.mark_row import said_sure
from replay.marks.marker_presses import BOUNCE, marker_presses
from replay.marks.marks_file import MarksFile

VERBS: Final = {"accept": accept, "reject": reject}


def show(log: str, folder: Path | None, states: Sequence[str], window: tuple[float, float], out: Path | None) -> None:
    """List, tell how far people agree, draw."""
    run = RunMarks.of(log, folder)
    _check_states(run.file, states)
    marks = [mark for mark in run.file.marks if (not states or mark.state in states) and mark.start < window[1] and mark.end >= window[0]]
    console().print(_table(run, marks))
    console().print(_counts(marks), markup=False)
    for shared in _agreement(run.file, states):
        console().print(f"  {shared.line}", markup=False)
    if out is not None:
        from dualduty.trial.marks_drawn import draw_run

        draw_run(run.sheet, marks, window, out)
        console().print(f"picture in {out}", markup=False)


def _agreement(file: MarksFile, states: Sequence[str]) -> list[Shared]:
    """How far people agree on those states that more than one of them marked."""
    by_state = {name: [mark for mark in file.marks if mark.state == name] for name in dict.fromkeys(mark.state for mark in file.marks)}
    shared = [name for name, marks in by_state.items() if several_people(marks) and (not states or name in states)]
    return list(agreed(file.marks, shared, file.path).states) if shared else []


def _check_states(file: MarksFile, states: Sequence[str]) -> None:
    known = list(dict.fromkeys(mark.state for mark in file.marks))
    for name in states:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"it has {', '.join(known) or 'none'}"
            raise BadInput(f"{file.path}: --state {name}", f"no mark of this state; {hint}")


def _table(run: RunMarks, marks: Iterable[Mark]) -> Table:
    title = f"{run.file.path.name}, marks of {run.sheet.name}"
    table = Table(
        "mark", "lasts", "sure", "status", "who", "origin", "edges", "note", box=None, pad_edge=False, title=title, title_justify="left"
    )
    for mark in sorted(marks, key=lambda mark: (mark.start, mark.state)):
        table.add_row(*(cell.replace("[", r"\[") for cell in _cells(mark)))
    return table


def _cells(mark: Mark) -> list[str]:
    soft = (
        ""
        if mark.start_margin is None and mark.end_margin is None
        else "±{:.0f}, ±{:.0f} ms".format(*(1e3 * edge for edge in mark.margins()))
    )
    lasts = f"{mark.end - mark.start:.3f} s" if mark.end > mark.start else ""
    return [mark.name, lasts, said_sure(mark.sure), mark.status, mark.who, mark.origin, soft, mark.note]


def _counts(marks: Sequence[Mark]) -> str:
    """3 marks accepted, 2 proposed, 1 rejected; 1 note."""
    events = [mark for mark in marks if mark.state not in NOT_STATES]
    by_status = [(status, sum(mark.status == status for mark in events)) for status in STATUSES]
    notes = sum(mark.state == NOTE for mark in marks)
    told = ", ".join(f"{count} {status}" for status, count in by_status if count)
    return counted(len(events), "mark") + (f": {told}" if told else "") + (f"; {counted(notes, 'note')}" if notes else "")


def judge(verb: str, log: str, folder: Path | None, names: Sequence[str], *, state: str, who: str) -> None:
    """Accept or reject the marks named, or all that are proposed."""
    run = RunMarks.of(log, folder)
    marks = [find(run.file, name) for name in names] if names else proposed(run.file, state)
    if not marks:
        raise BadInput(run.file.path, f"expected marks that are proposed{f' of state {state!r}' if state else ''}, found none")
    run.save(VERBS[verb](run.file, marks, who))
    _tell(f"{verb}ed", marks)


def move_one(log: str, folder: Path | None, name: str, edges: tuple[float | None, float | None], who: str) -> None:
    """Move one mark."""
    run = RunMarks.of(log, folder)
    mark = find(run.file, name)
    file = move(run.file, mark, *edges, who)
    run.save(file)
    moved = next(other for other in file.marks if other.row == mark.row)
    console().print(f"moved {mark.name} to {moved.start:.3f} s, {moved.end:.3f} s", markup=False)


def add_one(log: str, folder: Path | None, mark: Mark) -> None:
    """Add one mark, or a note."""
    run = RunMarks.of(log, folder)
    run.save(add(run.file, mark))
    _tell("added", [mark])


def take_presses(log: str, folder: Path | None) -> None:
    """Add the presses of the button that aren't there yet."""
    run = RunMarks.of(log, folder)
    known = [mark.start for mark in run.file.marks if mark.origin == BUTTON]
    found = marker_presses(run.sheet.open())
    fresh = [mark for mark in found if all(abs(mark.start - start) > BOUNCE for start in known)]
    if fresh:
        run.save(add(run.file, *fresh))
    times = ", ".join(f"{mark.start:.2f} s" for mark in found)
    console().print(f"the marker button was pressed {counted(len(found), 'time')}{f': {times}' if times else ''}", markup=False)
    _tell("added", fresh)


def _tell(verb: str, marks: Sequence[Mark], most: int = 20) -> None:
    for mark in marks[:most]:
        console().print(f"  {verb} {mark.name}", markup=False)
    more = f"; {len(marks) - most} of them not listed" if len(marks) > most else ""
    console().print(f"{counted(len(marks), 'mark')} {verb}{more}", markup=False)


def tell_proposals(run: RunMarks, proposals: Sequence[Mark]) -> None:
    """Add to the file what isn't known yet, and say what came of it."""
    from replay.marks.mark_edits import propose

    file, fresh = propose(run.file, proposals)
    if fresh:
        run.save(file)
    known = len(proposals) - len(fresh)
    _tell("proposed", fresh)
    if known:
        console().print(f"{known} more known already, as marks or as rejected proposals", markup=False)


def check_state(state: str, plugins: tuple[Path, ...]) -> None:
    """That a detector publishes this state, or that it is a stretch that was watched."""
    from dualduty.discovery import discover

    plug_ins = discover(plugins)
    known = [given.name for found in plug_ins.by_name.values() for given in found.gives if given.is_state]
    if state not in (*known, *NOT_STATES):
        near = difflib.get_close_matches(state, known, n=1)
        hint = f"did you mean {near[0]!r}?" if near else f"expected one of {', '.join(sorted(set(known)))}"
        raise BadInput(f"state {state}", f"no detector tells it; {hint}")

"""The marks of a run as a check takes them: those of several people made one set, problems told with the file they stand in."""

from __future__ import annotations

import re
from pathlib import Path

from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.trial.run_sheet import RunSheet
from replay.marks.agreement import agreed, several_people
from replay.marks.mark import Mark
from replay.marks.marks import read_marks


def settled_marks(sheet: RunSheet) -> tuple[list[Mark], tuple[str, ...]]:
    """Marks of a run, an event each, and lines on how far people agree where several marked it."""
    if sheet.marks is None:
        return [], ()
    marks = read_marks(sheet.marks)
    if not several_people(marks):
        return marks, ()
    agreement = agreed(marks, file=sheet.marks)
    return list(agreement.marks), tuple(f"marks of {shared.line}" for shared in agreement.states if shared.both or len(shared.alone) > 1)


def at_marks(problem: BadInput, marks: Path | None) -> BadInput:
    """The same problem with the file of the marks in place of the word."""
    if isinstance(problem, SeveralBadInputs):
        return SeveralBadInputs([at_marks(one, marks) for one in problem.problems])
    return BadInput(re.sub(r"^marks(?= line )", lambda _: str(marks), problem.where), problem.problem)

"""What was made, a line each log, for people."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from dualduty.command_line.console import counted
from dualduty.trial.demo_session.logs_folder import Session


def told(sessions: Sequence[Session]) -> list[str]:
    """Length, sections, marks and faults of each log, and the minutes of all marked ones."""
    lines = [_line(session) for session in sessions]
    minutes = sum(session.frame.length for session in sessions) / 60.0
    return [*lines, f"{minutes:.1f} min in {len(sessions)} logs; all of it is invented"]


def _line(session: Session) -> str:
    counts = Counter(mark.state for mark in session.marks if mark.counts)
    marks = ", ".join(f"{number} {state}" for state, number in sorted(counts.items())) or "no marks"
    kinds = {name.rpartition("-")[0] for name in session.sections}
    faults = counted(len(session.injected), "fault") if session.injected else "no faults"
    sections = f"{counted(len(session.sections), 'section')} of {counted(len(kinds), 'kind')}"
    return f"{session.name}: {session.frame.length / 60.0:.1f} min, {sections}, {faults}; marks: {marks}"

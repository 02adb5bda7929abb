"""Did the detectors see every marked event, in time, and nothing else?

Definitions, per state:

- A mark is **found** by a detection that the state's rule lets find it (`replay.check.rules`), never by one that comes later than a
  deadline, where one is set. Pairs are one to one, as many as possible, and of those the closest.
- A detection that is paired with no mark is **late** when it touches a mark that was missed, a **fragment** when it touches one that was
  found, **ignored** when it touches a mark that doesn't count or lies where nobody looked, else **false**. Edges of marks are soft by a
  margin, their own or the rule's: what lies within it touches.
- A mark counts when it is accepted and sure enough. One that is only proposed, or not sure, counts neither way; a rejected one is no mark.
- A mark that the detector under test proposed itself is counted apart: it would find its own. Where the class that gives a state isn't
  told, any detector's proposal is.
- False detections are counted per minute of time without any event.
- **Merged** are marks beyond the first of which one detection covers half each. A **toggle** is a change to on or off.

References
----------
Optimal one-to-one matching of events: Mesaros, Heittola and Virtanen, "Metrics for polyphonic sound event detection", Applied Sciences
6(6), 2016. Fragments and merges as kinds of error of their own: Ward, Lukowicz and Gellersen, "Performance metrics for activity
recognition", ACM Transactions on Intelligent Systems and Technology 2(1), 2011 (from memory).
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import replace

from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.trace import Trace
from replay.check.cross_triggers import with_cross_triggers
from replay.check.interval_sets import Array, interval_array, union
from replay.check.intervals import SeenStates, lines_of, seen_states
from replay.check.line import LineCheck
from replay.check.pool import joined
from replay.check.result import CheckResult, Event, Exposure, StateResult, state_result
from replay.check.rules import Rule, usual_rule
from replay.marks.mark import ACCEPTED, NOT_STATES, PROPOSED, REJECTED, WATCHED, Mark

__all__ = ["CheckResult", "Event", "Rule", "StateResult", "check", "sure_at_least", "usual_rule"]


def check(
    trace: Trace, marks: Sequence[Mark], rules: Mapping[str, Rule] | None = None, *, states: Sequence[str] = (), case: int = 0,
    suppliers: Mapping[str, str] | None = None,
) -> CheckResult:  # fmt: skip
    """Compare the states of a trace with marks: those that any mark names, and `states`, which may have no marks at all.

    `suppliers` names the detector class under test by state.
    """
    events_marked = [mark for mark in marks if mark.state not in NOT_STATES and mark.status != REJECTED]
    wanted = tuple(dict.fromkeys([*(mark.state for mark in events_marked), *states]))
    _refuse_unknown(wanted, events_marked, trace)
    seen = seen_states(trace, wanted, case)
    _refuse_beyond(events_marked, seen.length)
    watched = union(interval_array((mark.start, mark.end) for mark in marks if mark.state == WATCHED))
    check_of = _Check(seen, watched if len(watched) else interval_array([(0.0, seen.length)]), events_marked)
    events: list[Event] = []
    results: list[StateResult] = []
    for state in wanted:
        rule = (rules or {}).get(state) or usual_rule(state)
        these, exposure = check_of.of(state, rule, (suppliers or {}).get(state, ""))
        events += these
        results.append(state_result(state, rule, these, exposure))
    return CheckResult(tuple(events), tuple(results), seen.length, trace.header.dt)


def sure_at_least(marks: Sequence[Mark], share: float) -> list[Mark]:
    """The same marks; those less sure than so much count neither way."""
    return [replace(mark, status=PROPOSED) if mark.status == ACCEPTED and mark.sure < share else mark for mark in marks]


class _Check:
    """What all states of one check share."""

    def __init__(self, seen: SeenStates, watched: Array, marks: Sequence[Mark]) -> None:
        self.seen, self.watched = seen, watched
        self.counted = [mark for mark in marks if mark.counts]
        self.soft = [mark for mark in marks if not mark.counts]
        self.marked = {
            state: interval_array((mark.start, mark.end) for mark in self.counted if mark.state == state)
            for state in dict.fromkeys(mark.state for mark in self.counted)
        }

    def of(self, state: str, rule: Rule, supplier: str) -> tuple[list[Event], Exposure]:
        """Events of one state at all its places, and its exposure."""
        marks, soft = ([mark for mark in group if mark.state == state] for group in (self.counted, self.soft))
        places = [mark.where for mark in (*marks, *soft)]
        lines = [
            LineCheck(line, rule, marks, soft, self.seen, self.watched) for line in lines_of(state, len(self.seen.rows[state]), places)
        ]
        own = f"detector {supplier} " if supplier else "detector "
        events = [event for line in lines for event in line.events(own)]
        return with_cross_triggers(events, self.marked), joined([line.exposure(self.seen.length) for line in lines])


def _refuse_unknown(wanted: Sequence[str], marks: Sequence[Mark], trace: Trace) -> None:
    known = trace.header.states
    problems = []
    for state in (state for state in wanted if state not in known):
        rows = [mark.row for mark in marks if mark.state == state]
        near = difflib.get_close_matches(state, known, n=1)
        hint = f"did you mean {near[0]!r}?" if near else f"it has {', '.join(known)}"
        problems.append(BadInput(f"marks line {rows[0]}" if rows else "states", f"{state!r} is no state of this strategy; {hint}"))
    _raise(problems)


def _refuse_beyond(marks: Sequence[Mark], length: float) -> None:
    """A mark that begins after the log's end belongs to another log; it could only be missed."""
    _raise([
        BadInput(f"marks line {mark.row}", f"{mark.state!r} begins at {mark.start:g} s; the log ends at {length:.3f} s")
        for mark in marks
        if mark.start >= length
    ])  # fmt: skip


def _raise(problems: list[BadInput]) -> None:
    if problems:
        raise problems[0] if len(problems) == 1 else SeveralBadInputs(problems)

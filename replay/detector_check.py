"""Did the detectors see every marked event, in time, and nothing else?

Definitions, per state:

- A mark is **found** by a detection that overlaps it by at least half of their union, or whose onset lies within the
  state's collar of the mark's onset; never by one that comes later than a deadline, where one is set. Pairs are one to
  one, as many as possible. The *onset* is the core because it is what a damper acts on: the end of a state is softened
  by fades and latches on purpose, so it is measured (offset latency) but decides nothing. The overlap is the second way
  in because a human's mark of a long corner is soft by more than any collar.
- A detection that is paired with no mark is a **fragment** when it touches a mark that was found, **late** when it
  touches one that was missed, **ignored** when it touches an unsure mark or lies where nobody looked, else **false**.
  Edges of marks are soft by a margin: what lies within it touches.
- False detections are counted per minute of time without any event.

References
----------
Overlap instead of collars where labels are subjective: Bilen et al., "A framework for the robust evaluation of sound event detection",
2020, arXiv 1910.08440. Optimal one-to-one matching by onset collar: Mesaros, Heittola and Virtanen, "Metrics for polyphonic sound event
detection", Applied Sciences 6(6), 2016. The values of collars, margin and overlap are ours.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np

from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.signals import ROLES
from dualduty.trace import Trace
from replay.intervals import Interval, Line, detected, lines_of
from replay.marks import WATCHED, Mark
from replay.matching import cut_to, match, merged, overlap_share, total_length, touches

MARGIN: Final = 0.02  # s, softness of a mark's edges
LEAST_OVERLAP: Final = 0.5  # overlap over union
_COLLARS: Final = {"airborne": 0.05, "wheel_off": 0.05, "landing": 0.05, "bottoming": 0.05, "whoops": 0.5, "rough": 0.5}
_COLLAR: Final = 0.15  # s; cornering, braking and what else a driver does


@dataclass(frozen=True)
class Rule:
    """How near an onset must be, how late it may be at most (None: no limit), and how soft edges are. [s]"""

    collar: float = _COLLAR
    deadline: float | None = None
    margin: float = MARGIN

    def finds(self, mark: Interval, detection: Interval) -> bool:
        """True when the detection finds the mark."""
        late = detection[0] - mark[0]
        if self.deadline is not None and late > self.deadline + 1e-9:
            return False
        return overlap_share(mark, detection) >= LEAST_OVERLAP or abs(late) <= self.collar + 1e-9  # rounding of ticks


def usual_rule(state: str) -> Rule:
    """The rule of a state where none is given, by what kind of state it is."""
    return Rule(next((collar for name, collar in _COLLARS.items() if state.startswith(name)), _COLLAR))


@dataclass(frozen=True)
class Event:
    """One mark or one detection without a mark, and what became of it; times in s, NaN where there is none."""

    state: str
    where: str
    outcome: str
    mark_start: float = np.nan
    mark_end: float = np.nan
    detected_start: float = np.nan
    detected_end: float = np.nan
    overlap: float = np.nan
    mark_row: int = 0
    note: str = ""

    @property
    def onset_latency(self) -> float:
        """Positive: detected later than marked. [s]"""
        return self.detected_start - self.mark_start

    @property
    def offset_latency(self) -> float:
        """Positive: ended later than marked. [s]"""
        return self.detected_end - self.mark_end

    def to_row(self) -> dict[str, Any]:
        """As a plain dict."""
        return {**asdict(self), "onset_latency": self.onset_latency, "offset_latency": self.offset_latency}


@dataclass(frozen=True)
class StateResult:
    """Counts and figures of one state; latencies are (median, 90th percentile, worst), signed. [s]"""

    state: str
    rule: Rule
    found: int
    missed: int
    false: int
    fragments: int
    late: int
    ignored: int
    onset: tuple[float, float, float]
    offset: tuple[float, float, float]
    non_event_time: float
    active_outside: float

    @property
    def recall(self) -> float:
        """Found share of the marks; NaN without marks."""
        return self.found / (self.found + self.missed) if self.found + self.missed else np.nan

    @property
    def precision(self) -> float:
        """Share of detections that found a mark, fragments and late ones counted against it; NaN without detections."""
        detections = self.found + self.false + self.fragments + self.late
        return self.found / detections if detections else np.nan

    @property
    def false_per_minute(self) -> float:
        """False detections per minute without any event."""
        return self.false / self.non_event_time * 60.0 if self.non_event_time > 0 else np.nan

    def to_row(self) -> dict[str, Any]:
        """As a plain dict, latencies spread over columns."""
        names = ("median", "p90", "worst")
        plain = {key: value for key, value in asdict(self).items() if key not in ("rule", "onset", "offset")}
        spread = {f"{edge}_{name}": value for edge in ("onset", "offset") for name, value in zip(names, getattr(self, edge), strict=True)}
        rates = {"recall": self.recall, "precision": self.precision, "false_per_minute": self.false_per_minute}
        return {**plain, **rates, **spread, "collar": self.rule.collar, "deadline": self.rule.deadline}


@dataclass(frozen=True)
class CheckResult:
    """Every event by name, and a summary per state."""

    events: tuple[Event, ...]
    states: tuple[StateResult, ...]

    def rows(self) -> list[dict[str, Any]]:
        """One plain dict per event."""
        return [event.to_row() for event in self.events]

    def summary(self) -> list[dict[str, Any]]:
        """One plain dict per state."""
        return [state.to_row() for state in self.states]

    def of(self, state: str) -> StateResult:
        """The summary of one state."""
        return next(result for result in self.states if result.state == state)


def check(
    trace: Trace, marks: Sequence[Mark], rules: Mapping[str, Rule] | None = None, *, states: Sequence[str] = (), case: int = 0
) -> CheckResult:
    """Compare the states of a trace with marks: those that any mark names, and `states`, which may have no marks at all."""
    events_marked = [mark for mark in marks if mark.state != WATCHED]
    wanted = tuple(dict.fromkeys([*(mark.state for mark in events_marked), *states]))
    _refuse_unknown(wanted, events_marked, trace)
    corners = _corner_counts(trace, wanted)
    lines = {state: tuple(lines_of(state, corners[state], [m.where for m in events_marked if m.state == state])) for state in wanted}
    seen = detected(trace, [line for state in wanted for line in lines[state]], case)
    watched = merged([(mark.start, mark.end) for mark in marks if mark.state == WATCHED]) or [(0.0, seen.length)]
    events: list[Event] = []
    results: list[StateResult] = []
    for state in wanted:
        rule = (rules or {}).get(state) or usual_rule(state)
        mine = [_Line(line, rule, [m for m in events_marked if m.state == state], seen.intervals[line], watched) for line in lines[state]]
        these = [event for line in mine for event in line.events()]
        events += these
        results.append(_summary(state, rule, these, mine))
    return CheckResult(tuple(events), tuple(results))


def _refuse_unknown(wanted: Sequence[str], marks: Sequence[Mark], trace: Trace) -> None:
    known = trace.header.states
    problems = []
    for state in (state for state in wanted if state not in known):
        rows = [mark.row for mark in marks if mark.state == state]
        near = difflib.get_close_matches(state, known, n=1)
        hint = f"did you mean {near[0]!r}?" if near else f"it has {', '.join(known)}"
        problems.append(BadInput(f"marks line {rows[0]}" if rows else "states", f"{state!r} is no state of this strategy; {hint}"))
    if problems:
        raise problems[0] if len(problems) == 1 else SeveralBadInputs(problems)


def _corner_counts(trace: Trace, states: Sequence[str]) -> dict[str, int]:
    first = next(iter(trace), None)
    if first is None:
        raise BadInput("trace", "is empty: expected at least one chunk")
    return {state: int(first.states[state].shape[0]) for state in states}


class _Line:
    """One state at one group of corners: its marks, its detections, and what became of each."""

    def __init__(self, line: Line, rule: Rule, marks: Sequence[Mark], detections: Sequence[Interval], watched: Sequence[Interval]) -> None:
        mine = [mark for mark in marks if self._is_mine(line, mark)]
        self.line = line
        self.rule = rule
        self.sure = [mark for mark in mine if mark.sure]
        self.unsure = [(mark.start, mark.end) for mark in mine if not mark.sure]
        self.detections = list(detections)
        self.watched = watched

    @staticmethod
    def _is_mine(line: Line, mark: Mark) -> bool:
        return not mark.where or not line.where or ROLES[mark.where][0] in line.corners

    def events(self) -> Iterator[Event]:
        """One event per sure mark, then one per detection without a mark."""
        intervals = [(mark.start, mark.end) for mark in self.sure]
        pairs = match(intervals, self.detections, self.rule.finds, max(self.rule.collar, self.rule.margin))
        for index, mark in enumerate(self.sure):
            if index in pairs:
                start, end = self.detections[pairs[index]]
                share = overlap_share(intervals[index], (start, end))
                yield self._event("found", mark, (start, end), share)
            else:
                yield self._event("missed", mark)
        found = [intervals[index] for index in pairs]
        missed = [interval for index, interval in enumerate(intervals) if index not in pairs]
        paired = set(pairs.values())
        for index, detection in enumerate(self.detections):
            if index not in paired:
                yield Event(self.line.state, self.line.where, self._unpaired(detection, found, missed), np.nan, np.nan, *detection)

    def _event(self, outcome: str, mark: Mark, detection: Interval = (np.nan, np.nan), overlap: float = np.nan) -> Event:
        where = mark.where or self.line.where
        return Event(self.line.state, where, outcome, mark.start, mark.end, *detection, overlap, mark.row, mark.note)

    def _unpaired(self, detection: Interval, found: Sequence[Interval], missed: Sequence[Interval]) -> str:
        margin = self.rule.margin
        for outcome, intervals in (("late", missed), ("fragment", found), ("ignored", self.unsure)):
            if any(touches(detection, interval, margin) for interval in intervals):
                return outcome
        return "false" if any(touches(detection, stretch) for stretch in self.watched) else "ignored"

    def non_event_time(self) -> float:
        """Watched time outside all marks and their margins. [s]"""
        return total_length(self.watched) - total_length(cut_to(self._widened(), self.watched))

    def active_outside(self) -> float:
        """Watched time in which the state was active outside all marks and their margins. [s]"""
        active, events = cut_to(self.detections, self.watched), cut_to(self._widened(), self.watched)
        return total_length([*active, *events]) - total_length(events)

    def _widened(self) -> list[Interval]:
        margin = self.rule.margin
        return [(start - margin, end + margin) for start, end in [*((m.start, m.end) for m in self.sure), *self.unsure]]


def _summary(state: str, rule: Rule, events: Sequence[Event], lines: Sequence[_Line]) -> StateResult:
    count = {name: sum(event.outcome == name for event in events) for name in ("found", "missed", "false", "fragment", "late", "ignored")}
    found = [event for event in events if event.outcome == "found"]
    outside = sum(line.active_outside() for line in lines)
    return StateResult(
        state, rule, count["found"], count["missed"], count["false"], count["fragment"], count["late"], count["ignored"],
        onset=_spread([event.onset_latency for event in found]), offset=_spread([event.offset_latency for event in found]),
        non_event_time=min((line.non_event_time() for line in lines), default=0.0), active_outside=outside,
    )  # fmt: skip


def _spread(latencies: Sequence[float]) -> tuple[float, float, float]:
    """Median, 90th percentile and the one furthest from zero, signed."""
    if not latencies:
        return (np.nan, np.nan, np.nan)
    return (float(np.median(latencies)), float(np.percentile(latencies, 90)), max(latencies, key=abs))

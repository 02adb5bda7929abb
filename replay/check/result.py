"""What a check finds: every event by name, and counts and figures per state."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from replay.check.rules import Rule

Spread = tuple[float, float, float]


@dataclass(frozen=True)
class Event:
    """One mark or one detection without a mark, and what became of it; times in s, NaN where there is none.

    `own` says that the detector under test proposed the mark itself; `beside` are other states that were marked while this one was
    seen without a mark; `margins` are how soft the mark's edges are. [s]
    """

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
    own: bool = False
    sure: float = 1.0
    beside: tuple[str, ...] = ()
    margins: tuple[float, float] = (0.0, 0.0)

    @property
    def start(self) -> float:
        """Where it lies: the mark's start, that of the detection where nothing is marked. [s]"""
        return self.detected_start if np.isnan(self.mark_start) else self.mark_start

    @property
    def end(self) -> float:
        """Its end, likewise. [s]"""
        return self.detected_end if np.isnan(self.mark_end) else self.mark_end

    @property
    def name(self) -> str:
        """As marks are named: `airborne@12.340`, with its place where it has one."""
        return f"{self.state}@{self.start:.3f}" + (f" {self.where}" if self.where else "")

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
        latencies = {"onset_latency": self.onset_latency, "offset_latency": self.offset_latency}
        return {**asdict(self), "beside": ", ".join(self.beside), "name": self.name, **latencies}


@dataclass(frozen=True)
class Exposure:
    """How long one state could be right or wrong, summed over its places, and how it behaved; times in s.

    `non_event_time` is watched time outside all marks and their margins; `active_outside` the state's time in it; `inactive_inside` the
    time within marks, margins left out, in which it was not active; `merges` counts marks beyond the first under one detection.
    """

    watched: float = 0.0
    non_event_time: float = 0.0
    active_outside: float = 0.0
    inactive_inside: float = 0.0
    marked: float = 0.0
    active: float = 0.0
    ran: float = 0.0
    toggles: int = 0
    shortest_stay: float = np.inf
    merges: int = 0


@dataclass(frozen=True)
class StateResult:
    """Counts and figures of one state; latencies are (median, 90th percentile, worst), signed. [s]

    Counts of marks and latencies are over marks that the detector under test did not propose itself; those stand apart as `own_`.
    """

    state: str
    rule: Rule
    found: int
    missed: int
    false: int
    fragments: int
    late: int
    ignored: int
    own_found: int
    own_missed: int
    cross: int
    onset: Spread
    offset: Spread
    exposure: Exposure

    @property
    def recall(self) -> float:
        """Found share of the marks; NaN without marks."""
        return _share(self.found, self.found + self.missed)

    @property
    def own_recall(self) -> float:
        """Found share of the marks that the detector proposed itself; NaN without any."""
        return _share(self.own_found, self.own_found + self.own_missed)

    @property
    def detections(self) -> int:
        """Detections that count, for or against."""
        return self.found + self.own_found + self.false + self.fragments + self.late

    @property
    def precision(self) -> float:
        """Share of detections that found a mark, fragments and late ones counted against it; NaN without detections."""
        return _share(self.found + self.own_found, self.detections)

    @property
    def f1(self) -> float:
        """Harmonic mean of recall and precision; NaN without marks, 0 where none was found."""
        both = self.recall + self.precision
        if np.isnan(self.recall):
            return np.nan
        return 2.0 * self.recall * self.precision / both if both > 0 else 0.0

    @property
    def false_per_minute(self) -> float:
        """False detections per minute without any event."""
        return 60.0 * _share(self.false, self.exposure.non_event_time)

    @property
    def toggles_per_minute(self) -> float:
        """Changes between on and off per minute."""
        return 60.0 * _share(self.exposure.toggles, self.exposure.ran)

    @property
    def fragmentation(self) -> float:
        """Detections per mark that was found; 1 at best."""
        found = self.found + self.own_found
        return _share(found + self.fragments, found)

    @property
    def time_error(self) -> float:
        """Time in the state beside time marked, less one: +0.1 is a tenth too long; edges as sharp as they are marked."""
        return _share(self.exposure.active, self.exposure.marked) - 1.0

    @property
    def merges(self) -> int:
        """Marks beyond the first that one detection covers."""
        return self.exposure.merges

    @property
    def shortest_stay(self) -> float:
        """Shortest time it stayed on; NaN where it was never on. [s]"""
        return self.exposure.shortest_stay if self.exposure.shortest_stay < np.inf else np.nan

    @property
    def non_event_time(self) -> float:
        """Watched time outside all marks and their margins. [s]"""
        return self.exposure.non_event_time

    @property
    def active_outside(self) -> float:
        """Watched time in which the state was active outside all marks and their margins. [s]"""
        return self.exposure.active_outside

    def to_row(self) -> dict[str, Any]:
        """As a plain dict, latencies spread over columns; what has no value is None."""
        counted = ("found", "missed", "false", "fragments", "late", "ignored", "own_found", "own_missed", "cross", "merges")
        figures = (
            "recall", "own_recall", "precision", "f1", "false_per_minute", "toggles_per_minute", "fragmentation", "time_error",
            "shortest_stay", "non_event_time", "active_outside",
        )  # fmt: skip
        spread = {
            f"{edge}_{name}": value
            for edge in ("onset", "offset")
            for name, value in zip(("median", "p90", "worst"), getattr(self, edge), strict=True)
        }
        row = {"state": self.state, **{name: getattr(self, name) for name in (*counted, *figures)}, **spread}
        rule = {"match": self.rule.match, "collar": self.rule.collar, "deadline": self.rule.deadline}
        return {**row, "inactive_inside": self.exposure.inactive_inside, **rule}


@dataclass(frozen=True)
class CheckResult:
    """Every event by name, and a summary per state; how long the trace ran and its step. [s]"""

    events: tuple[Event, ...]
    states: tuple[StateResult, ...]
    length: float = 0.0
    tick: float = 0.0

    def rows(self) -> list[dict[str, Any]]:
        """One plain dict per event."""
        return [event.to_row() for event in self.events]

    def summary(self) -> list[dict[str, Any]]:
        """One plain dict per state."""
        return [state.to_row() for state in self.states]

    def of(self, state: str) -> StateResult:
        """The summary of one state."""
        return next(result for result in self.states if result.state == state)

    def outcomes(self, *outcomes: str) -> list[Event]:
        """Events of these outcomes, in order of time."""
        return sorted((event for event in self.events if event.outcome in outcomes), key=lambda event: (event.start, event.state))


def state_result(state: str, rule: Rule, events: Iterable[Event], exposure: Exposure) -> StateResult:
    """Count and sum up the events of one state."""
    mine = list(events)
    count = Counter((event.outcome, event.own) for event in mine)
    found = [event for event in mine if event.outcome == "found" and not event.own]
    return StateResult(
        state, rule, found=len(found), missed=count["missed", False], false=count["false", False],
        fragments=count["fragment", False], late=count["late", False], ignored=count["ignored", False],
        own_found=count["found", True], own_missed=count["missed", True], cross=sum(bool(event.beside) for event in mine),
        onset=_spread([event.onset_latency for event in found]), offset=_spread([event.offset_latency for event in found]),
        exposure=exposure,
    )  # fmt: skip


def _spread(latencies: Sequence[float]) -> Spread:
    """Median, 90th percentile and the one furthest from zero, signed."""
    if not latencies:
        return (np.nan, np.nan, np.nan)
    return (float(np.median(latencies)), float(np.percentile(latencies, 90)), max(latencies, key=abs))


def _share(part: float, whole: float) -> float:
    return part / whole if whole > 0 else np.nan

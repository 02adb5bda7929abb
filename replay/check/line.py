"""One state at one group of corners: its marks, its detections, and what became of each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from dualduty.signals import ROLES
from replay.check.interval_sets import Array, intersection, interval_array, length, pairs_within, touched, union
from replay.check.intervals import Line, SeenStates
from replay.check.matching import assign, overlap_shares
from replay.check.result import Event, Exposure
from replay.check.rules import Rule
from replay.marks.mark import Mark

COVERS: Final = 0.5  # share of a mark that a detection covers to count as having swallowed it


class LineCheck:
    """Marks of one line beside its detections.

    Parameters
    ----------
    line, rule
        Which state where, and what finds a mark.
    marks, unsure
        Marks of its state, at whatever place: those that count, and those that count neither way.
    seen, watched
        When states were active; in which stretches everything was marked, (stretch, 2). [s]
    """

    def __init__(self, line: Line, rule: Rule, marks: Sequence[Mark], unsure: Sequence[Mark], seen: SeenStates, watched: Array) -> None:
        self.line, self.rule, self.watched = line, rule, watched
        self.marks = [mark for mark in marks if _is_at(line, mark)]
        self.intervals = interval_array((mark.start, mark.end) for mark in self.marks)
        self.margins = np.array([mark.margins(rule.margin) for mark in self.marks]).reshape(-1, 2)
        self.soft = _widened([mark for mark in unsure if _is_at(line, mark)], rule)
        self.detections = seen.of(line)
        self.pairs = self._pairs()

    def _pairs(self) -> dict[int, int]:
        """Which detection each mark is paired with."""
        reach = max(self.rule.collar, float(self.margins.max(initial=self.rule.margin)))
        mark, detection = pairs_within(self.intervals, self.detections, reach)
        marks, detections = self.intervals[mark], self.detections[detection]
        keep = self.rule.allowed(marks, detections, self.margins[mark])
        return assign(mark[keep], detection[keep], np.abs(detections[keep, 0] - marks[keep, 0]))

    def events(self, own: str) -> Iterator[Event]:
        """One event per mark, then one per detection without a mark; an origin that starts with `own` is the detector's."""
        seen = np.full((len(self.marks), 2), np.nan)
        seen[list(self.pairs)] = self.detections[list(self.pairs.values())]
        shares = overlap_shares(self.intervals, seen)
        for index, mark in enumerate(self.marks):
            start, end, share = float(seen[index, 0]), float(seen[index, 1]), float(shares[index])
            yield Event(
                self.line.state, mark.where or self.line.where, "found" if index in self.pairs else "missed", mark.start, mark.end,
                start, end, share if index in self.pairs else np.nan, mark.row, mark.note, f"{mark.origin} ".startswith(own), mark.sure,
                margins=mark.margins(self.rule.margin),
            )  # fmt: skip
        alone = np.setdiff1d(np.arange(len(self.detections)), np.fromiter(self.pairs.values(), dtype=np.intp))
        for (start, end), outcome in zip(self.detections[alone].tolist(), self._unpaired(self.detections[alone]), strict=True):
            yield Event(self.line.state, self.line.where, outcome, detected_start=start, detected_end=end)

    def _unpaired(self, detections: Array) -> list[str]:
        """What a detection is that found nothing: late before fragment before ignored before false."""
        wide = _wide(self.intervals, self.margins)
        paired = np.isin(np.arange(len(wide)), list(self.pairs))
        outcome = np.where(touched(detections, self.watched), "false", "ignored").astype("<U8")
        outcome[touched(detections, self.soft)] = "ignored"
        outcome[touched(detections, wide[paired])] = "fragment"
        outcome[touched(detections, wide[~paired])] = "late"
        return [str(name) for name in outcome]

    def exposure(self, ran: float) -> Exposure:
        """How long it could be right or wrong; `ran` is how long the trace ran. [s]"""
        wide = np.concatenate([_wide(self.intervals, self.margins), self.soft])
        events, active = intersection(wide, self.watched), intersection(self.detections, self.watched)
        inner = intersection(_wide(self.intervals, -self.margins), self.watched)
        cut = np.isclose(self.detections, 0.0) | np.isclose(self.detections, ran)
        whole = self.detections[~cut.any(axis=1)]
        return Exposure(
            watched=length(self.watched), non_event_time=length(self.watched) - length(events),
            active_outside=length(np.concatenate([active, events])) - length(events),
            inactive_inside=length(inner) - length(intersection(inner, active)),
            marked=length(intersection(self.intervals, self.watched)), active=length(active) - length(intersection(active, self.soft)),
            ran=ran, toggles=int(self.detections.size - cut.sum()), merges=self._merges(),
            shortest_stay=float((whole[:, 1] - whole[:, 0]).min(initial=np.inf)),
        )  # fmt: skip

    def _merges(self) -> int:
        mark, detection = pairs_within(self.intervals, self.detections)
        marks, seen = self.intervals[mark], self.detections[detection]
        shared = np.minimum(marks[:, 1], seen[:, 1]) - np.maximum(marks[:, 0], seen[:, 0])
        wanted = COVERS * (marks[:, 1] - marks[:, 0])
        swallowed = np.bincount(detection[shared >= wanted], minlength=1)
        return int(np.maximum(swallowed - 1, 0).sum())


def _is_at(line: Line, mark: Mark) -> bool:
    return not mark.where or not line.where or ROLES[mark.where][0] in line.corners


def _wide(intervals: Array, margins: Array) -> Array:
    """Intervals with their margins added; with negative ones, what is left of them."""
    wide = intervals + margins * np.array([-1.0, 1.0])
    return np.asarray(wide[wide[:, 1] > wide[:, 0]]) if (margins < 0.0).any() else wide


def _widened(marks: Sequence[Mark], rule: Rule) -> Array:
    margins = np.array([mark.margins(rule.margin) for mark in marks]).reshape(-1, 2)
    return union(_wide(interval_array((mark.start, mark.end) for mark in marks), margins))

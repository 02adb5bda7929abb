"""Marks from the truth of a simulated drive, and as two people would have made them: late, early, and not all of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from dualduty.trace import Header, TraceChunk
from dualduty.true_ground import Stretch
from dualduty.truth_states import truth_by_corner, truth_intervals, unsure_intervals
from replay.marks.marks import TRUTH, Mark

STATES: Final = (
    "airborne", "landing", "cornering", "braking", "accelerating", "whoops", "corrugation", "rough_ground",
)  # fmt: skip
PEOPLE: Final = ("driver", "co-driver")
_NOTE: Final = "truth of the simulation"
_EDGE: Final = (0.010, 0.040)  # s that a person is off at an edge
_SHORT: Final = 0.15  # s; hops that are easily missed
_LEAST_HOP: Final = 0.03  # s; what is shorter, as on washboard, nobody could take for a flight
_MISSED: Final = 0.4  # share of them
_DOUBTFUL: Final = 0.4


def truth_marks(
    whole: TraceChunk, header: Header, stretches: Sequence[Stretch], zero: float = 0.0, states: Sequence[str] = STATES
) -> list[Mark]:
    """Marks of one case in order of time; `zero` is the drive's time at the log's first stamp. [s]

    What is real but too short to be held against anybody is marked as too doubtful to count.
    """
    found = truth_intervals(whole, header, kind=stretches)
    unsure = unsure_intervals(whole, header)
    left = truth_by_corner(whole, header)["cornering_outer"][1]  # the outer side of a left turn is the right one
    marks = [
        _mark(state, interval, zero, 1.0, _side(interval, left) if state == "cornering" else "")
        for state in states
        for interval in found[state]
    ]
    marks += [
        _mark(state, interval, zero, 0.0, "too short to count")
        for state in states
        for interval in unsure.get(state, ())
        if interval[1] - interval[0] >= _LEAST_HOP
    ]
    return sorted((mark for mark in marks if mark.end > mark.start >= 0.0), key=lambda mark: (mark.start, mark.state))


def _mark(state: str, interval: tuple[float, float], zero: float, sure: float, more: str) -> Mark:
    start, end = (round(max(edge - zero, 0.0), 3) for edge in interval)
    return Mark(state, start, end, sure=sure, note=f"{_NOTE}, {more}" if more else _NOTE, origin=TRUTH)


def _side(interval: tuple[float, float], left: Sequence[tuple[float, float]]) -> str:
    return "left" if any(start < interval[1] and end > interval[0] for start, end in left) else "right"


def peoples_marks(marks: Sequence[Mark], seed: int, state: str = "airborne") -> list[Mark]:
    """The sure marks of a state as two people would have set them, each with edges of their own; one of a short hop is doubtful."""
    sure = [mark for mark in marks if mark.state == state and mark.counts]
    doubtful = min(sure, key=lambda mark: mark.end - mark.start, default=None)
    made = []
    for at, who in enumerate(PEOPLE):
        random = np.random.default_rng([seed, 7, at])
        for mark in sure:
            edges = random.choice([-1.0, 1.0], 2) * random.uniform(*_EDGE, 2)
            missed = random.random() < _MISSED and mark.end - mark.start < _SHORT
            if mark is doubtful and at == 0:
                made.append(_by(mark, edges, who, _DOUBTFUL))
            elif not missed:
                made.append(_by(mark, edges, who, 1.0))
    return sorted(made, key=lambda mark: (mark.start, mark.who))


def _by(mark: Mark, edges: np.ndarray[tuple[int, ...], np.dtype[np.float64]], who: str, sure: float) -> Mark:
    start = round(max(mark.start + float(edges[0]), 0.0), 3)
    end = round(max(mark.end + float(edges[1]), start + 0.01), 3)
    said = "invented; can't tell whether all wheels were off" if sure < 1.0 else "invented"
    return Mark(mark.state, start, end, sure=sure, who=who, note=said, start_margin=_EDGE[1], end_margin=_EDGE[1])

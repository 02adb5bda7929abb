"""The event scoring on events that others labelled: feet that leave the ground, and a plain detector of ours that lives in this test."""

from __future__ import annotations

import mir_eval
import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.trace import Case, Header, Trace, TraceChunk
from replay.check.detector_check import CheckResult, Rule, check
from replay.check.intervals import Line, seen_states
from replay.check.result import StateResult
from replay.marks.mark import Mark
from tests.replay import foreign_events as foreign
from tests.replay.foreign_recordings import NotReachable

pytestmark = pytest.mark.network

FEET = tuple(foreign.FEET.values())
Interval = tuple[float, float]


@pytest.fixture(scope="module")
def marks() -> list[Mark]:
    try:
        return foreign.marks_of_flights()
    except NotReachable as reason:
        pytest.skip(str(reason))


def trace_of_feet(threshold: float) -> Trace:
    """State `foot_off` where the foot turns faster than a threshold [deg/s], averaged over 9 samples (44 ms, centred)."""
    turning = [smoothed(np.linalg.norm(rates.to_numpy(), axis=1)) > threshold for rates in foreign.gyroscopes().values()]
    rows = np.zeros((4, len(turning[0]), 1))
    rows[0, :, 0], rows[1, :, 0] = turning
    size = (1, rows.shape[1], 1)
    header = Header("replayed", 1.0 / foreign.RATE, (Case("walk", "", "on foot"),), ("on foot",), ("base",), ("foot_off",))
    states = {"foot_off": rows}
    return Trace.held(header, [TraceChunk(0, {}, {}, {}, states, states, {}, {}, {}, {}, np.zeros(size, dtype=np.int16), np.ones(size))])


def smoothed(values: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.convolve(values, np.full(9, 1.0 / 9.0), mode="same")


def scored(marks: list[Mark], threshold: float, rule: Rule) -> CheckResult:
    return check(trace_of_feet(threshold), marks, {"foot_off": rule})


def feet(result: CheckResult) -> StateResult:
    return result.of("foot_off")


def test_every_labelled_stride_is_either_found_or_missed_and_most_are_found(marks: list[Mark]) -> None:
    result = scored(marks, 80.0, Rule(0.05))
    state = feet(result)
    assert len(marks) == state.found + state.missed == 57  # rows of the file
    assert state.recall > 0.9
    # the foot turns about its toes before it leaves the ground, and again as its heel comes down: 0.2 s early, 0.15 s late
    assert -0.21 < state.onset[0] < -0.15
    assert 0.1 < state.offset[0] < 0.16
    # the walk goes on where nobody labelled strides: the first and last steps, and the turn
    last = max(mark.end for mark in marks)
    beyond = [event for event in result.outcomes("false") if event.start > last]
    assert len(beyond) >= 3


def test_a_higher_threshold_tears_strides_apart_and_a_lower_one_joins_them(marks: list[Mark]) -> None:
    low, middle, high = (feet(scored(marks, threshold, Rule(0.05))) for threshold in (60.0, 80.0, 150.0))
    assert low.recall < middle.recall <= high.recall
    assert low.fragments < middle.fragments < high.fragments
    assert low.time_error > middle.time_error > high.time_error
    assert low.onset[0] < middle.onset[0] < high.onset[0]


@pytest.mark.parametrize("collar", [0.05, 0.1, 0.16, 0.2, 0.25])
@pytest.mark.parametrize("threshold", [80.0, 150.0, 250.0])
def test_onsets_are_scored_as_an_independent_library_scores_them(marks: list[Mark], threshold: float, collar: float) -> None:
    """mir_eval 0.8, onset.f_measure, a foot at a time."""
    state = feet(scored(marks, threshold, Rule(collar, match="onset")))
    seen = seen_states(trace_of_feet(threshold), ["foot_off"])
    found = 0.0
    for row, foot in enumerate(FEET):
        theirs = np.array([mark.start for mark in marks if mark.where == foot])
        ours = seen.of(Line("foot_off", foot, (row,)))[:, 0]
        _, _, recall = mir_eval.onset.f_measure(theirs, ours, window=collar)
        found += recall * len(theirs)
    assert state.found == round(found)


def test_where_everything_was_watched_the_first_and_last_steps_are_no_longer_false(marks: list[Mark]) -> None:
    watched = Mark("watched", min(mark.start for mark in marks) - 0.3, max(mark.end for mark in marks) + 0.3)
    everywhere, inside = (feet(scored(group, 80.0, Rule(0.05))) for group in (marks, [*marks, watched]))
    assert inside.false < everywhere.false
    assert inside.found == everywhere.found

"""Marks of two people as one set: who agrees, by how much, and what only one has."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from dualduty.errors import BadInput, SeveralBadInputs
from replay.marks.agreement import agreed, several_people
from replay.marks.mark import Mark


def test_what_two_people_saw_is_one_event_as_soft_as_they_differ() -> None:
    marks = [
        Mark("airborne", 1.00, 1.50, sure=1.0, who="KR", note="kicker", row=2),
        Mark("airborne", 1.04, 1.52, sure=0.6, who="AS", note="first", end_margin=0.03, row=3),
    ]
    result = agreed(marks)
    (event,) = result.marks
    assert (event.start, event.end) == pytest.approx((1.02, 1.51))
    assert (event.start_margin, event.end_margin) == pytest.approx((0.02, 0.03))
    assert (event.sure, event.who, event.note) == (0.8, "KR + AS", "kicker; first")
    assert result.alone == ()
    assert result.of("airborne").start == pytest.approx((0.04, 0.04))


def test_what_only_one_has_stays_and_is_told() -> None:
    marks = [
        Mark("airborne", 1.0, 1.5, who="KR"), Mark("airborne", 1.0, 1.5, who="AS"), Mark("airborne", 5.0, 5.4, who="KR"),
        Mark("airborne", 7.0, 7.4, who="AS"), Mark("airborne", 7.25, 8.0, who="KR"),  # they share less than half of their union
    ]  # fmt: skip
    result = agreed(marks)
    assert [(mark.start, mark.who) for mark in result.marks] == [(1.0, "KR + AS"), (5.0, "KR"), (7.0, "AS"), (7.25, "KR")]
    assert [mark.start for mark in result.alone] == [5.0, 7.0, 7.25]
    assert (result.of("airborne").both, result.of("airborne").alone) == (1, {"KR": 2, "AS": 1})
    assert result.of("airborne").line.startswith(
        "airborne: 1 of 4 marked by both; 2 by KR only; 1 by AS only; starts differ by 0 ms median"
    )


def test_as_many_as_possible_are_matched_and_of_those_the_closest() -> None:
    mine = [Mark("whoops", 0.0, 3.0, who="KR"), Mark("whoops", 3.0, 6.0, who="KR")]
    theirs = [Mark("whoops", 1.0, 3.9, who="AS"), Mark("whoops", 3.9, 6.5, who="AS")]
    assert [mark.start for mark in agreed([*mine, *theirs]).marks] == [0.5, 3.45]


def test_places_and_states_are_kept_apart_and_the_rest_is_handed_through() -> None:
    marks = [
        Mark("wheel_off", 1.0, 2.0, "rear_left", who="KR"), Mark("wheel_off", 1.0, 2.0, "rear_right", who="AS"),
        Mark("wheel_off", 1.0, 2.0, "rear_left", who="AS", status="rejected"), Mark("braking", 1.0, 2.0, who="KR"),
        Mark("braking", 1.1, 2.0, who="AS"), Mark("watched", 0.0, 9.0, who="KR"), Mark("watched", 0.0, 9.0, who="AS"),
    ]  # fmt: skip
    result = agreed(marks, states=["wheel_off"])
    assert sorted(result.marks, key=str) == sorted(marks, key=str)
    assert [shared.state for shared in result.states] == ["wheel_off"]


def test_three_people_are_one_event_too() -> None:
    marks = [Mark("landing", start, start + 0.4, who=who) for who, start in (("A", 1.00), ("B", 1.02), ("C", 1.07))]
    (event,) = agreed(marks).marks
    assert event.who == "A + B + C"
    assert (event.start, event.start_margin) == pytest.approx((1.03, 0.035))


def test_a_persons_own_mark_makes_the_event_independent_of_the_detector() -> None:
    proposed = Mark("airborne", 1.0, 1.5, who="KR", origin="detector Airborne of marram baseline")
    assert agreed([proposed, Mark("airborne", 1.0, 1.5, who="AS")]).marks[0].origin == ""
    assert agreed([proposed, Mark("airborne", 1.0, 1.5, who="AS", origin="offline")]).marks[0].origin == proposed.origin


def test_marks_of_one_person_that_overlap_are_refused_with_their_lines() -> None:
    marks = [Mark("airborne", 1.0, 1.5, who="KR", row=2), Mark("airborne", 1.4, 1.8, who="KR", row=3)]
    with pytest.raises(BadInput) as caught:
        agreed(marks, file=Path("run.marks.csv"))
    told = "airborne@1.400 overlaps airborne@1.000 of line 2, both by KR; expected marks of one person apart"
    assert str(caught.value) == f"run.marks.csv line 3: {told}"
    with pytest.raises(SeveralBadInputs):
        agreed([*marks, Mark("airborne", 1.45, 1.6, who="KR", row=4)])
    assert len(agreed([marks[0], Mark("airborne", 1.5, 1.8, who="KR", row=3)]).marks) == 2


def test_figures_are_those_of_the_differences() -> None:
    random = np.random.default_rng(3)
    late = random.normal(0.0, 0.02, 31)
    marks = [Mark("airborne", 10.0 * jump, 10.0 * jump + 0.5, who="KR") for jump in range(31)]
    marks += [Mark("airborne", 10.0 * jump + late[jump], 10.0 * jump + 0.5, who="AS") for jump in range(31)]
    shared = agreed(marks).of("airborne")
    assert shared.both == 31
    assert shared.start == pytest.approx((np.median(np.abs(late)), np.percentile(np.abs(late), 90)))
    assert shared.end == pytest.approx((0.0, 0.0))
    assert several_people(marks)
    assert not several_people(marks[:31])

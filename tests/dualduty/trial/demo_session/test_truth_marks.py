"""Marks of the truth, and two people who saw the same flights."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.trial.demo_session.truth_marks import PEOPLE, peoples_marks
from replay.marks.marks import TRUTH, Mark


def flights(seconds: float, count: int) -> list[Mark]:
    return [Mark("airborne", 10.0 * at, 10.0 * at + seconds, origin=TRUTH) for at in range(1, count + 1)]


def test_each_person_is_off_by_some_tens_of_milliseconds_at_every_edge_and_not_by_the_same() -> None:
    true = flights(0.4, 40)
    made = peoples_marks(true, seed=3)
    for who in PEOPLE:
        own = [mark for mark in made if mark.who == who]
        assert len(own) == len(true)
        off = np.array([(mark.start - one.start, mark.end - one.end) for mark, one in zip(own, true, strict=True)])
        assert np.abs(off).min() >= 0.010 - 1e-3  # times are kept to the millisecond
        assert np.abs(off).max() <= 0.040 + 1e-3
        assert (off > 0).any()
        assert (off < 0).any()
    one, other = ([mark.start for mark in made if mark.who == who] for who in PEOPLE)
    assert one != other


def test_short_hops_are_missed_now_and_then_long_flights_never() -> None:
    made = peoples_marks([*flights(0.1, 40), Mark("airborne", 500.0, 500.6, origin=TRUTH)], seed=3)
    missed = 82 - len(made)
    assert 20 < missed < 45  # 40 % of 80, give or take three standard deviations
    assert sum(mark.start > 490.0 for mark in made) == 2


def test_one_mark_of_the_shortest_hop_is_doubtful_and_does_not_count() -> None:
    made = peoples_marks([*flights(0.4, 5), Mark("airborne", 100.0, 100.2, origin=TRUTH)], seed=1)
    doubtful = [mark for mark in made if not mark.counts]
    assert [(mark.who, mark.sure) for mark in doubtful] == [("driver", 0.4)]
    assert doubtful[0].start == pytest.approx(100.0, abs=0.041)


def test_people_mark_what_counts_of_one_state_only() -> None:
    marks = [Mark("landing", 1.0, 1.4), Mark("airborne", 0.5, 0.55, sure=0.0), *flights(0.3, 1)]
    made = peoples_marks(marks, seed=1)
    assert {round(mark.start) for mark in made} == {10}
    assert peoples_marks(marks[:2], seed=1) == []

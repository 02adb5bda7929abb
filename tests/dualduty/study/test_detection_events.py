"""What becomes of true intervals and detections: drives made by hand, every outcome once."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.study.detection_events import Events
from dualduty.study.drives import Drive
from dualduty.study.truth import Happening, TruthLine
from dualduty.trace import Case

DT = 0.01
TICKS = 1000


def drive(detections: list[tuple[float, float]], sure: list[tuple[float, float]], unsure: list[tuple[float, float]]) -> Drive:
    """One state over ten seconds."""
    gate = np.zeros((1, TICKS), np.bool_)
    for start, end in detections:
        gate[0, round(start / DT) : round(end / DT)] = True
    line = TruthLine("airborne", -1, tuple(Happening(start, end, end - start) for start, end in sure), tuple(unsure))
    case = Case("made", "by hand", "dash")
    return Drive(case, DT, {"airborne": gate}, {}, {}, {}, np.zeros((1, TICKS)), 0, (line,))


def events(*given: list[tuple[float, float]]) -> Events:
    found = Events()
    found.add(drive(*given))
    return found


def kinds(found: Events) -> list[str]:
    return [one.kind for one in found.outcomes]


def test_latencies_are_signed() -> None:
    one = events([(1.04, 1.5)], [(1.0, 1.6)], []).outcomes[0]
    assert one.kind == "found"
    np.testing.assert_allclose([one.onset, one.offset], [0.04, -0.1], atol=1e-9)  # rounding of ticks


def test_one_detection_finds_one_interval_and_merges_the_next() -> None:
    assert kinds(events([(1.0, 3.0)], [(1.0, 1.2), (2.0, 2.2)], [])) == ["found", "merged"]


def test_what_no_detection_touches_is_missed() -> None:
    found = events([(5.0, 5.2)], [(1.0, 1.2)], [])
    assert kinds(found) == ["missed"]
    assert found.tallies["airborne"].false == 1


def test_a_second_detection_of_the_same_interval_is_a_fragment() -> None:
    tally = events([(1.0, 1.1), (1.2, 1.3)], [(1.0, 1.4)], []).tallies["airborne"]
    assert (tally.fragments, tally.false, tally.ignored) == (1, 0, 0)


def test_where_nobody_is_sure_nothing_is_false() -> None:
    tally = events([(3.0, 3.1)], [], [(3.05, 3.5)]).tallies["airborne"]
    assert (tally.fragments, tally.false, tally.ignored) == (0, 0, 1)


def test_false_alarms_are_counted_per_minute_without_events() -> None:
    tally = events([(8.0, 8.1)], [(1.0, 2.0)], [(3.0, 4.0)]).tallies["airborne"]
    assert tally.quiet_time == pytest.approx(10.0 - 2 * 1.04)  # edges are soft by 20 ms
    assert tally.false_per_minute == pytest.approx(60.0 / tally.quiet_time)
    assert tally.false_by_section == {"made": 1}


def test_a_state_that_the_strategy_does_not_give_is_left_out() -> None:
    found = Events()
    found.add(drive([], [(1.0, 2.0)], []), [TruthLine("whoops", -1, (Happening(1.0, 2.0, 1.0),), ())])
    assert found.outcomes == []

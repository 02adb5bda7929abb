"""Figures of a check beyond found and missed: every one on a trace made by hand, counted by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from dualduty.errors import BadInput
from replay.check.cross_triggers import cross_matrix
from replay.check.detector_check import CheckResult, Rule, check, sure_at_least
from replay.check.pool import pooled
from replay.check.touchdown import by_air_time
from replay.marks.mark import Mark
from tests.replay.hand_made_trace import Active, trace_of

KICKER = Mark("airborne", 10.0, 10.5, row=2)


def checked(active: Active, marks: list[Mark], **rules: Rule) -> CheckResult:
    return check(trace_of(active), marks, rules)


@pytest.mark.parametrize(
    ("match", "found"),
    [
        # near at the onset, ends late; near at both; covers 0.6 of it, 0.2 s late; all of it, 0.4 s early, half of the union
        ("overlap", (False, True, True, True)),
        ("onset", (True, True, False, False)),
        ("onset and offset", (False, True, False, False)),
        ("overlap or onset", (True, True, True, True)),
        ("overlap or onset and offset", (False, True, True, True)),
    ],
)
def test_a_rule_says_which_evidence_counts(match: str, found: tuple[bool, ...]) -> None:
    detections = [(10.04, 12.0), (10.04, 10.7), (10.2, 10.5), (9.6, 10.5)]
    for detection, is_found in zip(detections, found, strict=True):
        result = checked({"airborne": {0: [detection]}}, [KICKER], airborne=Rule(0.05, match=match))
        assert result.of("airborne").found == int(is_found), (match, detection)


def test_the_offset_may_be_off_by_half_the_length_of_a_long_mark() -> None:
    rule = Rule(0.05, match="onset and offset")
    marks = [Mark("cornering", 10.0, 14.0)]
    assert checked({"cornering": {0: [(10.0, 16.0)]}}, marks, cornering=rule).of("cornering").found == 1  # 2.0 s, half of 4 s
    assert checked({"cornering": {0: [(10.0, 16.01)]}}, marks, cornering=rule).of("cornering").found == 0


def test_a_mark_that_is_itself_not_sure_of_its_edge_asks_for_no_more() -> None:
    detection: Active = {"airborne": {0: [(10.12, 10.2)]}}
    assert checked(detection, [KICKER]).of("airborne").found == 0
    soft = Mark("airborne", 10.0, 10.5, start_margin=0.12)
    assert checked(detection, [soft]).of("airborne").found == 1


def test_margins_of_a_mark_are_its_own() -> None:
    active: Active = {"airborne": {0: [(10.0, 10.48), (10.55, 10.7)]}}
    assert checked(active, [KICKER]).of("airborne").false == 1
    wide = Mark("airborne", 10.0, 10.5, end_margin=0.1)
    state = checked(active, [wide]).of("airborne")
    assert (state.false, state.fragments) == (0, 1)
    assert state.non_event_time == pytest.approx(60 - 0.5 - 0.02 - 0.1)


def test_a_proposed_or_unsure_mark_counts_neither_way_and_a_rejected_one_is_no_mark() -> None:
    active: Active = {"airborne": {0: [(10.0, 10.5), (20.0, 20.5), (30.0, 30.5)]}}
    marks = [
        Mark("airborne", 10.0, 10.5, status="proposed"), Mark("airborne", 20.0, 20.5, sure=0.4),
        Mark("airborne", 30.0, 30.5, status="rejected"),
    ]  # fmt: skip
    state = checked(active, marks).of("airborne")
    assert (state.found, state.missed, state.ignored, state.false) == (0, 0, 2, 1)
    silent = checked({"airborne": {0: []}}, marks).of("airborne")
    assert (silent.missed, silent.ignored) == (0, 0)


def test_how_sure_a_mark_must_be_can_be_asked_for() -> None:
    marks = [Mark("airborne", 10.0, 10.5, sure=0.7), Mark("airborne", 20.0, 20.5, sure=0.9)]
    assert checked({"airborne": {0: []}}, marks).of("airborne").missed == 2
    assert checked({"airborne": {0: []}}, sure_at_least(marks, 0.8)).of("airborne").missed == 1


def test_marks_that_the_detector_proposed_itself_are_counted_apart() -> None:
    active: Active = {"airborne": {0: [(10.0, 10.5), (20.04, 20.5)]}}
    own = "detector Airborne of marram baseline"
    marks = [
        Mark("airborne", 10.0, 10.5, origin=own), Mark("airborne", 20.0, 20.5), Mark("airborne", 30.0, 30.5, origin="offline"),
        Mark("airborne", 40.0, 40.5, origin="detector Other of marram baseline"),
    ]  # fmt: skip
    result = check(trace_of(active), marks, suppliers={"airborne": "Airborne"})
    state = result.of("airborne")
    assert (state.found, state.missed, state.own_found, state.own_missed) == (1, 2, 1, 0)
    assert state.recall == pytest.approx(1 / 3)
    assert state.own_recall == 1.0
    assert state.precision == 1.0  # a person has accepted it: it is no false one
    assert state.onset == pytest.approx((0.04, 0.04, 0.04))  # the one it proposed itself would say 0
    assert [event.own for event in result.events] == [True, False, False, False]
    unknown = check(trace_of(active), marks).of("airborne")  # which class gives it isn't told: any detector's proposal is its own
    assert (unknown.found, unknown.missed, unknown.own_found, unknown.own_missed) == (1, 1, 1, 1)


def test_a_note_is_no_state() -> None:
    assert checked({"airborne": {0: []}}, [Mark("note", 5.0, 5.0), KICKER]).states[0].state == "airborne"


def test_a_mark_beyond_the_end_is_of_another_log() -> None:
    with pytest.raises(BadInput, match=r"marks line 9: 'airborne' begins at 61 s; the log ends at 60\.000 s"):
        checked({"airborne": {0: []}}, [Mark("airborne", 61.0, 62.0, row=9)])


def test_merges_are_marks_beyond_the_first_under_one_detection() -> None:
    marks = [Mark("airborne", 10.0, 10.5), Mark("airborne", 10.7, 11.1), Mark("airborne", 11.3, 11.9)]
    # covers the first two whole and a third of the last
    state = checked({"airborne": {0: [(10.0, 11.5)]}}, marks).of("airborne")
    assert (state.merges, state.found, state.missed) == (1, 1, 2)
    apart = checked({"airborne": {0: [(10.0, 10.5), (10.7, 11.1)]}}, marks).of("airborne")
    assert apart.merges == 0


def test_fragmentation_is_detections_per_mark_found() -> None:
    active: Active = {"airborne": {0: [(10.0, 10.1), (10.2, 10.3), (10.4, 10.5), (20.0, 20.5)]}}
    state = checked(active, [KICKER, Mark("airborne", 20.0, 20.5)]).of("airborne")
    assert (state.fragments, state.fragmentation) == (2, 2.0)


def test_toggles_shortest_stay_and_time_in_state() -> None:
    active: Active = {"airborne": {0: [(0.0, 0.05), (10.0, 10.4), (20.0, 20.25), (59.9, 60.0)]}}
    state = checked(active, [KICKER, Mark("airborne", 20.0, 20.3)]).of("airborne")
    assert state.toggles_per_minute == 6.0  # off; on, off; on, off; on: the trace's own ends are no change
    assert state.shortest_stay == pytest.approx(0.25)  # those cut off by an end may be longer
    assert state.time_error == pytest.approx(0.8 / 0.8 - 1.0, abs=1e-12)
    assert state.active_outside == pytest.approx(0.05 + 0.1)
    assert state.exposure.inactive_inside == pytest.approx(0.08 + 0.03)  # up to the margin of 20 ms


def test_a_state_that_never_was_has_no_shortest_stay() -> None:
    state = checked({"airborne": {0: []}}, [KICKER]).of("airborne")
    assert math.isnan(state.shortest_stay)
    assert (state.f1, state.toggles_per_minute) == (0.0, 0.0)


def test_f1_is_the_harmonic_mean() -> None:
    active: Active = {"airborne": {0: [(10.0, 10.5), (20.0, 20.5), (30.0, 30.5), (40.0, 40.5)]}}
    state = checked(active, [KICKER, Mark("airborne", 20.0, 20.5), Mark("airborne", 50.0, 50.5)]).of("airborne")
    assert state.recall == pytest.approx(2 / 3)
    assert state.precision == 0.5
    assert state.f1 == pytest.approx(2 * (2 / 3) * 0.5 / (2 / 3 + 0.5))


def test_cross_triggers_name_what_was_marked_then() -> None:
    active: Active = {"airborne": {0: [(10.0, 10.1), (20.0, 21.0), (30.0, 30.2)]}, "braking": {0: [(10.0, 12.0)]}}
    # the first lies in braking; the second by 0.25 of its length in it; the third while nothing is marked
    marks = [Mark("braking", 9.9, 12.0), Mark("braking", 20.75, 22.0)]
    result = check(trace_of(active), marks, states=("airborne",))
    assert [event.beside for event in result.outcomes("false")] == [("braking",), (), ()]
    assert cross_matrix(result.events) == {("airborne", "braking"): 1, ("airborne", ""): 2}
    assert result.of("airborne").cross == 1


def test_margin_before_touchdown_goes_by_air_time() -> None:
    marks = [
        Mark("airborne", 5.0, 5.1), Mark("airborne", 10.0, 10.2), Mark("airborne", 15.0, 15.24), Mark("airborne", 20.0, 20.5),
        Mark("airborne", 30.0, 30.12), Mark("airborne", 40.0, 40.4, origin="detector Airborne of x"),
    ]  # fmt: skip
    active: Active = {"airborne": {0: [(10.04, 10.3), (15.1, 15.24), (20.09, 20.6), (30.13, 30.4), (40.0, 40.4)]}}
    rules = {"airborne": Rule(0.15)}
    classes = by_air_time(check(trace_of(active), marks, rules))
    assert [(one.key, one.marks) for one in classes] == [("under_120", 1), ("120_to_250", 3), ("over_500", 1)]
    assert [np.round(one.margins, 6).tolist() for one in classes] == [[], [0.16, 0.14, -0.01], [0.41]]
    assert classes[1].median == pytest.approx(0.14)
    assert classes[1].least == pytest.approx(-0.01)
    assert math.isnan(classes[0].least)


def test_several_logs_are_one_by_adding_up() -> None:
    first = checked({"airborne": {0: [(10.05, 10.5), (30.0, 30.2)]}}, [KICKER])
    second = checked({"airborne": {0: []}, "landing": {0: [(5.0, 5.2)]}}, [Mark("airborne", 1.0, 1.5), Mark("landing", 5.0, 5.2)])
    both = pooled([first, second])
    state = both.of("airborne")
    assert (state.found, state.missed, state.false) == (1, 1, 1)
    assert state.non_event_time == pytest.approx(first.of("airborne").non_event_time + second.of("airborne").non_event_time)
    assert state.exposure.ran == pytest.approx(120.0)
    assert state.shortest_stay == pytest.approx(0.2)
    assert state.onset[0] == pytest.approx(0.05)
    assert both.of("landing").found == 1
    assert len(both.events) == len(first.events) + len(second.events)
    assert pooled([first]) is first


def test_a_wheels_state_has_its_least_quiet_place_and_its_own_time() -> None:
    trace = trace_of({"wheel_off": {0: [(10.0, 10.5)], 3: [(20.0, 20.1)]}}, corners={"wheel_off": 4})
    state = check(trace, [Mark("wheel_off", 10.0, 10.5, "front_left")]).of("wheel_off")
    assert (state.found, state.false) == (1, 1)
    assert state.non_event_time == pytest.approx(60 - 0.54)
    assert state.exposure.ran == pytest.approx(60.0)
    assert state.exposure.toggles == 4

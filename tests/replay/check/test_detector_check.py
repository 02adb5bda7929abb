"""The detector check on hand-made traces: every kind of outcome, its latency, its rate, and the gates."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from dualduty.errors import BadInput
from dualduty.trace import Trace
from replay.check.detector_check import Event, Rule, check, usual_rule
from replay.check.detector_gates import read_gates
from replay.check.intervals import Line, detected
from replay.check.matching import match
from replay.marks.marks import Mark
from tests.replay.hand_made_trace import Active, trace_of

MARKS = [Mark("airborne", 10.0, 10.5, note="kicker", row=2), Mark("airborne", 20.0, 20.4, row=3), Mark("airborne", 30.0, 30.3, row=4)]


def events_of(active: Active, marks: list[Mark], rule: Rule | None = None) -> list[Event]:
    return list(check(trace_of(active), marks, {"airborne": rule} if rule else None).events)


def outcomes(active: Active, marks: list[Mark], rule: Rule | None = None) -> list[str]:
    return [event.outcome for event in events_of(active, marks, rule)]


def test_all_outcomes_at_once() -> None:
    detections = [(10.04, 10.6), (20.0, 20.12), (20.2, 20.4), (30.25, 30.4), (40.0, 40.1), (50.0, 50.3)]
    marks = [*MARKS, Mark("airborne", 50.0, 50.2, sure=False, row=5)]
    result = check(trace_of({"airborne": {0: detections}}), marks)
    told = [(event.outcome, event.mark_row, event.detected_start) for event in result.events]
    assert [entry[:2] for entry in told] == [
        ("found", 2), ("found", 3), ("missed", 4), ("fragment", 0), ("late", 0), ("false", 0), ("ignored", 0),
    ]  # fmt: skip
    state = result.of("airborne")
    assert (state.found, state.missed, state.false, state.fragments, state.late, state.ignored) == (2, 1, 1, 1, 1, 1)
    assert state.recall == pytest.approx(2 / 3)
    assert state.precision == pytest.approx(2 / 5)
    # a minute less the four marks (1.4 s) and their 20 ms margins
    assert state.non_event_time == pytest.approx(60 - 1.4 - 8 * 0.02)
    assert state.false_per_minute == pytest.approx(60 / state.non_event_time)
    # after the first mark's margin 80 ms, 80 ms after the third, the false one, 80 ms after the unsure one
    assert state.active_outside == pytest.approx(0.08 + 0.08 + 0.1 + 0.08)


def test_latencies_are_signed_and_worst_is_furthest_from_zero() -> None:
    state = check(trace_of({"airborne": {0: [(10.04, 10.65), (19.9, 20.4), (30.02, 30.2)]}}), MARKS).of("airborne")
    assert state.onset == pytest.approx((0.02, 0.036, -0.1))  # -0.1, 0.02, 0.04: 90th percentile between the upper two
    assert state.offset == pytest.approx((0.0, 0.12, 0.15))
    row = state.to_row()
    assert row["onset_worst"] == pytest.approx(-0.1)
    assert row["recall"] == 1.0


@pytest.mark.parametrize(
    ("detection", "expected"),
    [
        ((10.05, 10.06), "found"),  # on the collar of 50 ms, however short
        ((10.06, 10.12), "missed"),  # beyond it, and a tenth of the mark
        ((10.25, 10.5), "found"),  # late by half of it: overlap over union is exactly a half
        ((10.26, 10.5), "missed"),
        ((9.5, 10.5), "found"),  # too early by its own length: exactly a half again
        ((9.49, 10.5), "missed"),
        ((9.96, 15.0), "found"),  # stuck on: found by its onset; the offset latency tells
    ],
)
def test_edges_of_the_definition(detection: tuple[float, float], expected: str) -> None:
    assert outcomes({"airborne": {0: [detection]}}, MARKS[:1])[0] == expected


def test_a_deadline_turns_a_late_detection_into_a_miss() -> None:
    active: Active = {"airborne": {0: [(10.12, 10.5)]}}
    assert outcomes(active, MARKS[:1]) == ["found"]
    assert outcomes(active, MARKS[:1], Rule(0.05, deadline=0.12)) == ["found"]
    assert outcomes(active, MARKS[:1], Rule(0.05, deadline=0.11)) == ["missed", "late"]


@pytest.mark.parametrize(("start", "expected"), [(10.51, "fragment"), (10.53, "false")])
def test_edges_of_marks_are_soft_by_the_margin(start: float, expected: str) -> None:
    assert outcomes({"airborne": {0: [(10.0, 10.48), (start, 10.6)]}}, MARKS[:1])[1] == expected


def test_one_detection_over_two_marks_finds_one_of_them() -> None:
    marks = [Mark("airborne", 10.0, 10.5, row=2), Mark("airborne", 10.6, 11.1, row=3)]
    assert sorted(outcomes({"airborne": {0: [(10.0, 11.1)]}}, marks)) == ["found", "missed"]


def test_pairs_are_as_many_as_possible_not_nearest_first() -> None:
    # nearest first would take (1.00, 1.01) and leave mark 0.96 with 1.05, which is out of its reach
    marks, detections = [(0.96, 2.0), (1.00, 2.0)], [(1.01, 3.0), (1.05, 9.0)]
    pairs = match(marks, detections, Rule(0.05).finds, 0.05)
    assert pairs == {0: 0, 1: 1}


@pytest.mark.slow
def test_matching_is_optimal_beside_every_possible_pairing() -> None:
    random = np.random.default_rng(4)
    rule = Rule(0.1)
    for _ in range(200):
        marks, detections = (
            sorted((float(a), float(a + b)) for a, b in zip(random.uniform(0, 1.5, 4), random.uniform(0.02, 0.4, 4), strict=True))
            for _ in "ab"
        )
        pairs = match(marks, detections, rule.finds, 0.1)
        best = max(
            (sum(ok), -sum(abs(marks[m][0] - detections[d][0]) for m, d in enumerate(order) if ok[m]))
            for order in itertools.permutations(range(4))
            for chosen in itertools.product((True, False), repeat=4)
            for ok in [[chosen[m] and rule.finds(marks[m], detections[d]) for m, d in enumerate(order)]]
        )
        error = sum(abs(marks[m][0] - detections[d][0]) for m, d in pairs.items())
        assert len(pairs) == best[0]
        assert error == pytest.approx(-best[1], abs=1e-12)


@pytest.mark.parametrize("chunk", [1, 7, 1000, 6000])
def test_intervals_run_through_chunks_and_end_with_the_trace(chunk: int) -> None:
    trace = trace_of({"airborne": {0: [(0.0, 0.5), (9.99, 10.01), (59.0, 60.0)]}}, chunk=chunk)
    line = Line("airborne", "", (0,))
    seen = detected(trace, [line])
    np.testing.assert_allclose(seen.intervals[line], [(0.0, 0.5), (9.99, 10.01), (59.0, 60.0)], rtol=1e-12)
    assert seen.length == pytest.approx(60.0)


def test_a_mark_of_a_side_is_found_at_either_of_its_corners_and_not_across() -> None:
    outer: Active = {"cornering_outer": {0: [(5.0, 7.0)], 2: [(5.2, 7.1)], 1: [(30.0, 31.0)]}}
    trace = trace_of(outer, corners={"cornering_outer": 4})
    left = check(trace, [Mark("cornering_outer", 5.1, 7.0, "left")])
    assert [(event.outcome, event.where) for event in left.events] == [("found", "left"), ("false", "front_right")]
    right = check(trace, [Mark("cornering_outer", 5.1, 7.0, "right")])
    assert [event.outcome for event in right.events] == ["false", "missed", "false", "false"]  # front-left, right, rear-left
    anywhere = check(trace, [Mark("cornering_outer", 5.1, 7.0)])
    assert [(event.outcome, event.where) for event in anywhere.events] == [("found", "any corner"), ("false", "any corner")]


def test_a_state_that_goes_from_corner_to_corner_without_a_break_is_one_detection() -> None:
    trace = trace_of({"wheel_off": {0: [(10.0, 10.2)], 1: [(10.2, 10.5)]}}, corners={"wheel_off": 4})
    result = check(trace, [Mark("wheel_off", 10.0, 10.5, "front")])
    assert [event.outcome for event in result.events] == ["found"]
    assert result.events[0].detected_end == pytest.approx(10.5)


def test_ticks_after_the_end_of_a_padded_run_are_none() -> None:
    whole = trace_of({"airborne": {0: [(10.0, 10.5), (39.0, 41.0), (50.0, 50.5)]}})
    chunks = [replace(chunk, running=np.where(chunk.start + np.arange(chunk.ticks) < 4000, 1.0, 0.0)[None, :, None]) for chunk in whole]
    result = check(Trace.held(whole.header, chunks), MARKS[:1])
    assert result.length == pytest.approx(40.0)
    assert [event.outcome for event in result.events] == ["found", "false"]
    assert result.events[1].detected_end == pytest.approx(40.0)


def test_detections_where_nobody_looked_are_ignored() -> None:
    active: Active = {"airborne": {0: [(10.0, 10.5), (15.0, 15.2), (40.0, 40.2)]}}
    result = check(trace_of(active), [*MARKS[:1], Mark("watched", 5.0, 25.0)])
    assert [event.outcome for event in result.events] == ["found", "false", "ignored"]
    assert result.of("airborne").non_event_time == pytest.approx(20 - 0.54)
    assert result.of("airborne").active_outside == pytest.approx(0.2)


def test_a_state_without_marks_can_be_asked_for() -> None:
    result = check(trace_of({"airborne": {0: []}, "landing": {0: [(1.0, 1.1)]}}), [], states=("landing", "airborne"))
    assert result.of("landing").false == 1
    assert math.isnan(result.of("airborne").recall)
    assert result.of("airborne").false_per_minute == 0.0


def test_an_unknown_state_names_the_row_of_its_mark() -> None:
    with pytest.raises(BadInput, match="marks line 7: 'airbourne' is no state of this strategy; did you mean 'airborne'"):
        check(trace_of({"airborne": {0: []}}), [Mark("airbourne", 1.0, 2.0, row=7)])


def test_events_can_be_named_and_drawn() -> None:
    row = check(trace_of({"airborne": {0: [(10.04, 10.6)]}}), MARKS[:1]).rows()[0]
    assert row["note"] == "kicker"
    assert row["onset_latency"] == pytest.approx(0.04)
    assert {"state", "where", "outcome", "mark_start", "mark_end", "detected_start", "detected_end"} <= row.keys()


def test_collars_depend_on_the_kind_of_state() -> None:
    assert (usual_rule("airborne_likely").collar, usual_rule("cornering_outer").collar, usual_rule("whoops").collar) == (0.05, 0.15, 0.5)


GATES = """
[airborne]
min_recall_pct = 100
max_false_per_min = 0.5
max_onset_p90_ms = 60
max_fragments = 0
deadline_ms = 100
[landing]
min_recall_pct = 50
"""


def gate_failures(folder: Path, detections: list[tuple[float, float]]) -> list[str]:
    (folder / "gates.toml").write_text(GATES.partition("[landing]")[0], encoding="utf-8")
    gates = read_gates(folder / "gates.toml")
    return gates.failures(check(trace_of({"airborne": {0: detections}}), MARKS, gates.rules))


GOOD = [(10.04, 10.6), (20.02, 20.4), (30.03, 30.3)]


def test_gates_pass_and_each_planted_fault_fails_its_own(tmp_path: Path) -> None:
    assert gate_failures(tmp_path, GOOD) == []
    assert gate_failures(tmp_path, GOOD[:2]) == ["airborne: found 66.67 %, at least 100 % wanted"]
    assert gate_failures(tmp_path, [*GOOD, (50.0, 50.1)])[0].startswith("airborne: 1.022 false per minute, at most 0.5 wanted")
    late = [(10.09, 10.6), *GOOD[1:]]  # 90, 20 and 30 ms: the median alone would pass
    assert gate_failures(tmp_path, late) == ["airborne: onset 78 ms late (90th percentile), at most 60 ms wanted"]
    torn = [*GOOD[:2], (30.03, 30.1), (30.15, 30.3)]
    assert gate_failures(tmp_path, torn) == ["airborne: 1 fragments, at most 0 wanted"]
    beyond = [*GOOD[:2], (30.11, 30.3)]
    assert gate_failures(tmp_path, beyond) == ["airborne: found 66.67 %, at least 100 % wanted"]


def test_a_dead_detector_and_a_state_nobody_checked_fail(tmp_path: Path) -> None:
    (tmp_path / "gates.toml").write_text(GATES, encoding="utf-8")
    gates = read_gates(tmp_path / "gates.toml")
    failures = gates.failures(check(trace_of({"airborne": {0: []}}), MARKS, gates.rules))
    assert "landing: not checked" in failures
    assert any("found 0 %" in line for line in failures)
    assert any("onset" in line and "nothing to judge by" in line for line in failures)


def test_a_wrong_gates_file_is_told_with_its_keys(tmp_path: Path) -> None:
    (tmp_path / "gates.toml").write_text("[airborne]\nmin_recal_pct = 90\nmax_false_per_min = -1\n", encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        read_gates(tmp_path / "gates.toml")
    assert "airborne.min_recal_pct: unknown key; did you mean 'min_recall_pct'?" in str(caught.value)
    assert "airborne.max_false_per_min: expected 0 to 1e+06, came -1" in str(caught.value)

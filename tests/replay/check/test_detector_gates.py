"""Every limit of a gates file: kept by what is good enough, crossed by what is not, told with its key and its numbers."""

from __future__ import annotations

from pathlib import Path

import pytest

from dualduty.errors import BadInput
from replay.check.detector_check import CheckResult, check
from replay.check.detector_gates import Gates, read_gates
from replay.marks.mark import Mark
from tests.replay.hand_made_trace import trace_of

MARKS = [Mark("airborne", 10.0, 10.5), Mark("airborne", 10.7, 11.1), Mark("airborne", 20.0, 20.2), Mark("airborne", 30.0, 30.1)]
# on time; the next in one with it; late by 40 ms and long; torn in two; one false
SEEN = [(10.0, 11.1), (20.04, 20.6), (30.0, 30.04), (30.06, 30.1), (50.0, 50.1)]


def gates_of(folder: Path, text: str, state: str = "airborne") -> Gates:
    (folder / "gates.toml").write_text(f"[{state}]\n{text}\n", encoding="utf-8")
    return read_gates(folder / "gates.toml")


def result(gates: Gates) -> CheckResult:
    return check(trace_of({"airborne": {0: SEEN}}), MARKS, gates.rules)


LIMITS = [
    ("min_recall_pct", 75, 76, "found 75 %, at least 76 % wanted"),
    ("min_precision_pct", 60, 61, "precision 60 %, at least 61 % wanted"),
    ("max_false_per_min", 1.1, 1.0, "1.023 false per minute, at most 1 wanted"),
    ("max_onset_p90_ms", 33, 31, "onset 32 ms late (90th percentile), at most 31 ms wanted"),
    ("max_offset_p90_ms", 561, 559, "offset 560 ms late (90th percentile), at most 559 ms wanted"),
    ("max_fragments", 1, 0, "1 fragments, at most 0 wanted"),
    ("max_merges", 1, 0, "1 marks swallowed by the detection of another, at most 0 wanted"),
    ("max_toggles_per_min", 10, 9, "10 toggles per minute, at most 9 wanted"),
]


@pytest.mark.parametrize(("key", "kept", "crossed", "said"), LIMITS, ids=[limit[0] for limit in LIMITS])
def test_a_limit_is_kept_and_crossed(tmp_path: Path, key: str, kept: float, crossed: float, said: str) -> None:
    gates = gates_of(tmp_path, f"deadline_ms = 100\n{key} = {kept}")
    assert gates.failures(result(gates)) == []
    gates = gates_of(tmp_path, f"deadline_ms = 100\n{key} = {crossed}")
    failures = gates.limits(result(gates))
    assert [(limit.key, limit.kept) for limit in failures] == [(key, False)]
    assert failures[0].said == f"airborne: {said}"


def test_margin_before_touchdown_is_asked_by_air_time(tmp_path: Path) -> None:
    # 100 ms: seen at once; 200 ms: 160 ms before touchdown; 400 ms: swallowed, not seen; 500 ms: all of it
    gates = gates_of(tmp_path, "min_margin_ms = { under_120 = 90, 120_to_250 = 161, 250_to_500 = 1, over_500 = 500 }")
    limits = gates.limits(result(gates))
    assert [(limit.key, limit.kept) for limit in limits] == [
        ("min_margin_ms.under_120", True), ("min_margin_ms.120_to_250", False), ("min_margin_ms.250_to_500", False),
        ("min_margin_ms.over_500", True),
    ]  # fmt: skip
    assert limits[1].said == "airborne 120 to 250 ms: seen 160 ms before touchdown at least, 161 ms wanted"
    assert "none seen, 1 ms wanted" in limits[2].said
    one_number = gates_of(tmp_path, "min_margin_ms = 95")
    assert [limit.kept for limit in one_number.limits(result(one_number))] == [True, True, False, True]


def test_a_flight_that_was_not_seen_at_all_crosses_the_limit_of_its_class(tmp_path: Path) -> None:
    gates = gates_of(tmp_path, "min_margin_ms = { over_500 = 1 }")
    marks = [MARKS[0], Mark("airborne", 40.0, 40.6)]
    half = check(trace_of({"airborne": {0: [(10.0, 10.5)]}}), marks)
    said = "airborne over 500 ms: seen 500 ms before touchdown at least, 1 not seen at all, 1 ms wanted"
    assert gates.failures(half) == [said]


def test_a_class_without_flights_keeps_its_limit(tmp_path: Path) -> None:
    gates = gates_of(tmp_path, "min_margin_ms = { 120_to_250 = 50 }")
    empty = check(trace_of({"airborne": {0: [(10.0, 10.5)]}}), MARKS[:1])
    assert gates.limits(empty) == []


def test_a_rule_in_the_file_is_the_one_that_scores(tmp_path: Path) -> None:
    gates = gates_of(tmp_path, 'match = "onset and offset"\ncollar_ms = 80\nmargin_ms = 5')
    rule = gates.rules["airborne"]
    assert (rule.match, rule.collar, rule.margin) == ("onset and offset", 0.08, 0.005)
    assert result(gates).of("airborne").found == 1  # the last, whose second half is torn off; the others end too late


@pytest.mark.parametrize(
    ("state", "text", "said"),
    [
        ("airborne", 'match = "nearly"', "match: expected one of 'overlap or onset'"),
        ("landing", "min_margin_ms = 5", "landing.min_margin_ms: is a limit of 'airborne' only"),
        ("airborne", "min_margin_ms = { over_50 = 5 }", "min_margin_ms.over_50: unknown key; did you mean 'over_500'?"),
        ("airborne", 'no_lost = "yes"', "no_lost: expected true or false, came 'yes'"),
        ("airborne", "min_precision_pct = 101", "min_precision_pct: expected 0 to 100, came 101"),
        ("airborne", "max_merges = -1", "max_merges: expected 0 to 1e+06, came -1"),
        ("airborne", "max_togles_per_min = 3", "did you mean 'max_toggles_per_min'?"),
    ],
)
def test_a_wrong_gates_file_is_told_with_its_key(tmp_path: Path, state: str, text: str, said: str) -> None:
    with pytest.raises(BadInput) as caught:
        gates_of(tmp_path, text, state)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_state_that_was_not_marked_has_no_recall_to_keep(tmp_path: Path) -> None:
    gates = gates_of(tmp_path, "min_recall_pct = 50")
    silent = check(trace_of({"airborne": {0: []}}), [], states=("airborne",))
    assert gates.failures(silent) == ["airborne: found nothing to judge by, at least 50 % wanted"]


def test_a_log_that_is_one_event_from_end_to_end_has_no_false_ones_per_minute(tmp_path: Path) -> None:
    gates = gates_of(tmp_path, "max_false_per_min = 0")
    trace = trace_of({"airborne": {0: []}})
    marked = check(trace, [Mark("airborne", 0.0, 1e6)], states=("airborne",))
    assert gates.failures(marked) == ["airborne: max_false_per_min: nothing to judge by, at most 0 wanted"]

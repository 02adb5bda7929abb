"""A kept check: read back as it was, and what changed since, event by event; gates that need it."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from dualduty.errors import BadInput
from replay.check.comparison import Comparison, compare_checks
from replay.check.detector_check import Rule, check
from replay.check.detector_gates import Gate, Gates, read_gates
from replay.check.reference import KeptLog, Reference, read_reference, recording_digest, write_reference
from replay.check.result import CheckResult
from replay.marks.mark import Mark
from tests.replay.hand_made_trace import Active, trace_of

MARKS = [
    Mark("airborne", 10.0, 10.5, note="kicker", row=2), Mark("airborne", 20.0, 20.4, row=3), Mark("airborne", 30.0, 30.3, row=4),
    Mark("airborne", 40.0, 40.3, origin="detector Airborne of x", row=5), Mark("landing", 10.5, 10.7, row=6),
]  # fmt: skip
BEFORE: Active = {
    "airborne": {0: [(10.04, 10.6), (20.0, 20.4), (40.0, 40.3), (50.0, 50.1), (55.0, 55.1)]},
    "landing": {0: [(10.52, 10.6), (10.65, 10.9), (25.0, 25.1)]},
}
NOW: Active = {
    "airborne": {0: [(10.09, 10.6), (30.0, 30.3), (40.0, 40.3), (50.03, 50.1), (52.0, 52.1)]},
    "landing": {0: [(10.52, 10.9), (25.0, 25.1)]},
}


def kept(active: Active, marks: list[Mark] = MARKS, name: str = "loop", digest: str = "abc") -> KeptLog:
    return KeptLog(name, digest, check(trace_of(active), marks, states=("landing",)))


def compared(before: KeptLog, now: KeptLog) -> Comparison:
    return compare_checks(Reference("baseline", "1234", (before,)), [now])


def told(comparison: Comparison) -> list[tuple[str, str]]:
    return [(one.kind, one.event.name) for one in comparison.changed]


def test_a_kept_check_is_read_back_as_it_was(tmp_path: Path) -> None:
    reference = Reference("baseline", "1234", (kept(BEFORE),), {"numpy": "2.4"})
    path = tmp_path / "kept.json"
    write_reference(path, reference)
    back = read_reference(path)
    assert (back.calibration, back.digest, back.versions) == ("baseline", "1234", {"numpy": "2.4"})
    assert rows(back.logs[0].result) == rows(reference.logs[0].result)
    again = tmp_path / "again.json"
    write_reference(again, back)
    assert again.read_bytes() == path.read_bytes()


def rows(result: CheckResult) -> str:
    """As text, so that what is not a number equals itself."""
    return repr((result.rows(), result.summary(), result.length, result.tick))


def test_what_changed_is_named_event_by_event() -> None:
    comparison = compared(kept(BEFORE), kept(NOW))
    assert told(comparison) == [
        ("slower", "airborne@10.000"), ("lost", "airborne@20.000"), ("gained", "airborne@30.000"), ("new false", "airborne@52.000"),
        ("gone false", "airborne@55.000"),
    ]  # fmt: skip
    assert comparison.changed[0].slower == pytest.approx(0.05)
    assert comparison.changed[0].event.note == "kicker"
    assert comparison.apart == ()
    airborne = next(one for one in comparison.states if one.state == "airborne")
    assert (airborne.paired, airborne.lost, airborne.gained, airborne.new_false, airborne.gone_false, airborne.slower) == (4, 1, 1, 1, 1, 1)
    assert airborne.p_value == 1.0
    assert not airborne.toggles_grew


def test_the_same_check_has_changed_in_nothing() -> None:
    comparison = compared(kept(BEFORE), kept(BEFORE))
    assert comparison.changed == ()
    assert all(one.latency_change == 0.0 for one in comparison.states)
    assert Gates().failures(kept(BEFORE).result, comparison) == []


def test_a_tick_later_is_not_slower_and_earlier_never_is() -> None:
    marks = MARKS[:1]
    before = kept({"airborne": {0: [(10.04, 10.6)]}, "landing": {0: []}}, marks)
    for onset, slower in ((10.05, False), (10.06, True), (10.0, False)):  # a tick of 10 ms and 2 ms of tolerance
        now = kept({"airborne": {0: [(onset, 10.6)]}, "landing": {0: []}}, marks)
        assert bool(compared(before, now).of("airborne", "slower")) is slower


def test_a_false_one_at_another_wheel_is_new() -> None:
    def at(corner: int) -> KeptLog:
        trace = trace_of({"wheel_off": {corner: [(5.0, 5.2)]}}, corners={"wheel_off": 4})
        return KeptLog("loop", "abc", check(trace, [], states=("wheel_off",)))

    assert told(compared(at(0), at(0))) == []
    assert [kind for kind, _ in told(compared(at(0), at(3)))] == ["new false", "gone false"]


def test_a_torn_detection_that_becomes_false_is_not_new() -> None:
    """What was late or a fragment, and is called false now, is the same detection."""
    marks = [Mark("airborne", 10.0, 10.5)]
    before = kept({"airborne": {0: [(10.0, 10.4), (10.5, 10.6)]}, "landing": {0: []}}, marks)
    now = kept({"airborne": {0: [(10.0, 10.4), (10.53, 10.6)]}, "landing": {0: []}}, marks)
    assert now.result.of("airborne").false == 1
    assert told(compared(before, now)) == []


def test_a_detection_that_is_newly_torn_is_no_new_false_one() -> None:
    marks = [Mark("airborne", 10.0, 10.5)]
    before = kept({"airborne": {0: [(10.0, 10.3)]}, "landing": {0: []}}, marks)
    now = kept({"airborne": {0: [(10.0, 10.3), (10.42, 10.5)]}, "landing": {0: []}}, marks)
    assert now.result.of("airborne").fragments == 1
    assert told(compared(before, now)) == []


def test_toggles_that_grew_are_told() -> None:
    marks = MARKS[:1]
    calm = kept({"airborne": {0: [(10.0, 10.5)]}, "landing": {0: []}}, marks)
    torn = kept({"airborne": {0: [(10.0, 10.3), (10.32, 10.5)]}, "landing": {0: []}}, marks)
    state = compared(calm, torn).states[0]
    assert (state.toggles_before, state.toggles_now, state.toggles_grew) == (2.0, 4.0, True)


def test_other_logs_and_other_marks_are_told_and_not_compared() -> None:
    moved = [replace(MARKS[0], start=9.9), *MARKS[1:]]
    comparison = compared(kept(BEFORE), kept(BEFORE, moved))
    assert comparison.apart == (
        "loop: airborne@9.900: no such mark in the reference", "loop: airborne@10.000: marked in the reference only",
    )  # fmt: skip
    assert told(comparison) == []
    other = compared(kept(BEFORE), kept(NOW, digest="def"))
    assert other.apart == ("log loop: another recording than in the reference (digest def, was abc)",)
    assert (other.changed, other.states) == ((), ())
    neither = compared(kept(BEFORE), kept(NOW, name="hill"))
    assert neither.apart == ("log hill: not in the reference", "log loop: in the reference, not checked now")


def test_a_lost_mark_fails_unless_the_file_says_it_may(tmp_path: Path) -> None:
    now = kept(NOW)
    comparison = compared(kept(BEFORE), now)
    assert Gates().failures(now.result, comparison) == ["airborne: 1 found in the reference and lost now: loop airborne@20.000"]
    assert Gates(gates={"airborne": Gate(no_lost=False)}).failures(now.result, comparison) == []
    (tmp_path / "gates.toml").write_text("[airborne]\nno_lost = false\nmax_new_false = 0\n", encoding="utf-8")
    failures = read_gates(tmp_path / "gates.toml").failures(now.result, comparison)
    assert failures == ["airborne: 1 false that the reference has not, at most 0 wanted"]


def test_marks_found_by_another_rule_are_not_compared() -> None:
    rules = {"airborne": Rule(0.05, deadline=0.03)}
    strict = KeptLog("loop", "abc", check(trace_of(BEFORE), MARKS, rules, states=("landing",)))
    comparison = compared(kept(BEFORE), strict)
    assert comparison.apart == ("loop: airborne: found by another rule than in the reference",)
    assert strict.result.of("airborne").missed > kept(BEFORE).result.of("airborne").missed
    assert [one.state for one in comparison.states] == ["landing"]
    assert comparison.changed == ()


def test_how_many_may_come_later_is_a_limit(tmp_path: Path) -> None:
    now = kept(NOW)
    comparison = compared(kept(BEFORE), now)
    for most, failures in ((0, ["airborne: 1 found later than in the reference by more than a tick, at most 0 wanted"]), (1, [])):
        (tmp_path / "gates.toml").write_text(f"[airborne]\nno_lost = false\nmax_slower = {most}\n", encoding="utf-8")
        assert read_gates(tmp_path / "gates.toml").failures(now.result, comparison) == failures


def test_a_recording_has_one_digest_whatever_map_it_is_read_through() -> None:
    assert recording_digest({"log": "a" * 64, "channel map": "b" * 64}) == "a" * 16
    both = {"one.csv": "a" * 64, "two.csv": "b" * 64}
    assert recording_digest(both) == recording_digest(dict(reversed(both.items()))) != "a" * 16
    assert recording_digest({}) == ""


def without(*path: Any) -> Callable[[dict[str, Any]], None]:
    def change(content: dict[str, Any]) -> None:
        for key in path[:-1]:
            content = content[key]
        del content[path[-1]]

    return change


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (without("format"), "format: expected 'dualduty detector check, 1', came None"),
        (lambda content: content.update(format="dualduty detector check, 9"), "came 'dualduty detector check, 9'"),
        (without("logs", 0, "events", 0, "state"), "is no whole check: KeyError at 'state'"),
        (without("logs", 0, "states", 0, "rule"), "is no whole check: KeyError at 'rule'"),
        (lambda content: content["logs"][0]["events"][0].update(margins=[1.0]), "is no whole check: ValueError"),
        (lambda content: content["logs"][0]["events"][0].update(outcome="perhaps"), "expected one of found, missed, false"),
        (lambda content: content["logs"][0]["events"][0].update(own="false"), "and true or false, came 'found', 'false'"),
        (lambda content: content["logs"][0]["events"][0].update(state="hover"), "for ['hover']"),
        (lambda content: content["logs"][0]["events"][0].update(mark_start=None), "mark_start: expected a number, came None"),
        (lambda content: content["logs"][0]["events"][0].update(mark_end=float("inf")), "mark_end: expected a number, came inf"),
        (lambda content: content["logs"][0]["events"][0].update(sure=7), "sure: expected a number from 0 to 1, came 7"),
        (lambda content: content["logs"][0]["states"].append(content["logs"][0]["states"][0]), "expected each state of an event once"),
        (lambda content: content["logs"][0]["states"][0]["exposure"].update(toggles="x"), "toggles: expected a number of 0 or more"),
        (lambda content: content["logs"][0]["states"][0]["exposure"].update(watched=-1), "watched: expected a number of 0 or more"),
        (lambda content: content["logs"][0]["states"][0]["rule"].update(match="nearly"), "match: expected one of overlap or onset"),
        (lambda content: content["logs"][0]["states"][0]["rule"].update(collar="x"), "collar: expected a number of 0 or more, came 'x'"),
        (lambda content: content["logs"][0].update(length_s="nan"), "length_s: expected a number of 0 or more, came 'nan'"),
        (lambda content: content["logs"][0].update(length_s=10**400), "is no whole check: OverflowError"),
        (lambda content: content["logs"][0]["states"][0]["rule"].update(colour="red"), "is no whole check: TypeError"),
        (lambda content: content.update(logs=7), "is no whole check: TypeError"),
        (lambda content: content["logs"][0].update(tick_s="often"), "is no whole check: ValueError"),
    ],
)
def test_a_reference_that_is_none_is_one_line(tmp_path: Path, change: Callable[[dict[str, Any]], None], said: str) -> None:
    path = tmp_path / "kept.json"
    write_reference(path, Reference("baseline", "1234", (kept(BEFORE),)))
    content = json.loads(path.read_text(encoding="utf-8"))
    change(content)
    path.write_text(json.dumps(content), encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        read_reference(path)
    assert said in str(caught.value)
    assert str(caught.value).startswith(str(path))
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00", b'{"format": ', b"[1, 2]", b"state,start_s\n", b"[" * 100_000, b"9" * 5_000])
def test_a_file_of_another_kind_is_one_line(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "kept.json"
    path.write_bytes(content)
    with pytest.raises(BadInput, match="keep-reference"):
        read_reference(path)
    with pytest.raises(BadInput, match="can't be read"):
        read_reference(tmp_path / "none.json")

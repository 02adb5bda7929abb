"""Verdicts on logs that say enough, too little, or something else."""

from __future__ import annotations

import numpy as np
import pytest

from replay.sameness.grounding import LayerApart, explained, judge
from replay.sameness.sameness import sameness
from tests.replay.logged_trace import trace_of, waves

TICKS = 10_000


def test_a_log_of_the_same_calibration_is_grounded() -> None:
    found = sameness(trace_of(waves(TICKS), waves(TICKS)))
    verdict = judge(found)
    assert verdict.grounded
    assert verdict.told
    assert verdict.text == str(verdict)
    assert verdict.text.startswith(
        "grounded: candidate agrees with logged commands in 100.0 % of ticks (compression, the worse side); time"
    )
    assert not explained(found)


def test_another_calibration_is_not() -> None:
    found = sameness(trace_of(waves(TICKS), np.clip(waves(TICKS) + 0.04, 0.0, 1.0)))
    verdict = judge(found)
    assert not verdict.grounded
    assert verdict.agreement < 0.05
    assert "expected 95 %" in verdict.text
    lines = explained(found)
    assert lines[0].startswith("where base decides ")
    assert "points above, steadily: one of its duties may be another" in lines[0]
    assert any(line.startswith("most apart from ") for line in lines)


def test_the_asked_agreement_is_what_counts() -> None:
    logged = waves(TICKS)
    logged[:4, 9000:] += 0.1  # of 8500 ticks compared
    found = sameness(trace_of(waves(TICKS), logged))
    assert judge(found, least=0.88).grounded
    assert not judge(found, least=0.89).grounded


@pytest.mark.parametrize(
    ("replayed", "logged", "told"),
    [
        (waves(TICKS), None, "the log records neither duties nor states of its own controller"),
        (waves(3000), waves(3000), "only 3.0 s could be compared; expected 5 s or more"),
        (np.full((8, TICKS), 0.3), np.full((8, TICKS), 0.3), "the logged duties hardly move: what stands still agrees with anything"),
    ],
)
def test_where_nothing_can_be_told_it_says_so(replayed: np.ndarray, logged: np.ndarray | None, told: str) -> None:
    verdict = judge(sameness(trace_of(replayed, logged)))
    assert not verdict.grounded
    assert not verdict.told
    assert verdict.text == f"not grounded, can't tell: {told}"


def test_states_alone_ground_no_duties() -> None:
    gate = (np.arange(TICKS) % 700 < 200).astype(float)[None]
    found = sameness(trace_of(waves(TICKS), None, states={"landing": (gate, gate)}))
    assert found.states[0].share == 1.0
    assert abs(found.offset.seconds) < 1e-3
    assert judge(found).text == "not grounded, can't tell: the log records states of its own controller, but no duties"


def test_a_late_clock_and_an_event_of_one_side_are_worth_a_word() -> None:
    gate = np.zeros((1, TICKS))
    gate[0, 5000:5200] = 1.0
    found = sameness(trace_of(waves(TICKS), waves(TICKS, 0.048), states={"landing": (np.zeros((1, TICKS)), gate)}))
    assert judge(found).text.endswith("time offset +48.0 ms, latencies of detectors on this log are off by as much")
    assert "state landing: 0 % of its active time is in both; of its events, 1 in all, 1 in the replay only" in explained(found)


def test_one_side_logged_is_compared_alone() -> None:
    logged = waves(TICKS)
    logged[4:] = np.nan
    found = sameness(trace_of(waves(TICKS), logged))
    assert found.logged.sides == ("compression",)
    assert np.isnan(found.share("rebound"))
    assert judge(found).grounded


def test_a_state_that_only_one_tells_by_corner_is_compared_as_a_whole() -> None:
    whole = (np.arange(TICKS) % 700 < 200).astype(float)[None]
    by_corner = np.zeros((4, TICKS))
    by_corner[2] = whole
    found = sameness(trace_of(waves(TICKS), waves(TICKS), states={"one": (whole, by_corner), "other": (by_corner, whole)}))
    assert [(state.share, state.compared) for state in found.states] == [(1.0, TICKS - 1500)] * 2


def apart(share: float, *, steady: bool) -> LayerApart:
    return LayerApart("end stops", "rebound", share, 2.0, 0.1, steady)


@pytest.mark.parametrize(("share", "steady", "refutes"), [(0.77, False, False), (0.77, True, True), (0.4, False, True)])
def test_a_layer_that_mostly_agrees_and_is_off_unsteadily_only_narrows_the_claim(share: float, steady: bool, refutes: bool) -> None:
    assert apart(share, steady=steady).refutes is refutes


def test_what_a_grounded_log_says_less_of_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    found = sameness(trace_of(waves(TICKS), waves(TICKS)))
    monkeypatch.setattr("replay.sameness.grounding.layers_apart", lambda _: [apart(0.77, steady=False)])
    verdict = judge(found)
    assert verdict.grounded
    assert "less so where end stops decides rebound (77 %)" in verdict.text
    monkeypatch.setattr("replay.sameness.grounding.layers_apart", lambda _: [apart(0.77, steady=False), apart(0.3, steady=False)])
    assert not judge(found).grounded

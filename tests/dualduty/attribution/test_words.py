"""A moment in words: who decided, since when, above whom, and everything else that is true of it."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from dualduty.attribution import Attribution, LayerFacts, explain, moment
from dualduty.attribution.instant import instant
from dualduty.attribution.suspicion import Loss
from dualduty.attribution.words import details, headline, parting, sentences
from dualduty.errors import BadInput
from dualduty.report.words import MINUS
from strategies.gates import ANY, EVERY, THIS_CORNER
from tests.dualduty.attribution.small_strategy import SmallStrategy, run_of

FL, RL = 0, 2


@pytest.fixture(name="told")
def _told() -> Attribution:
    strategy = SmallStrategy()
    return explain(run_of(strategy), strategy, 0.0, 2.4)


def _reads(told: Attribution, layer: int, **reads: str) -> Attribution:
    facts: LayerFacts = dataclasses.replace(told.layers[layer], reads=reads)
    return dataclasses.replace(told, layers=(*told.layers[:layer], facts, *told.layers[layer + 1 :]))


@pytest.mark.parametrize(
    ("time", "side", "sentence"),
    [
        (0.3, "rebound", "rear-left rebound 31 %: body hold from the start, above base 20 %"),
        (0.3, "compression", "rear-left compression 30 %: base from the start"),
        (0.5, "rebound", "rear-left rebound 20 %: base since 0.10 s"),
        (1.0, "rebound", "rear-left rebound 62 %: landing from this tick on, above body hold 36 %"),
        (1.14, "rebound", "rear-left rebound 62 %: landing since 0.14 s, above body hold 36 %"),
        (1.3, "rebound", "rear-left rebound 57 %: landing since 0.30 s, above body hold 36 %"),
        (1.74, "compression", "rear-left compression 64 %: landing since 0.74 s, 80 % open, above base 30 %"),
    ],
)
def test_headline(told: Attribution, time: float, side: str, sentence: str) -> None:
    assert headline(moment(told, time, RL, side)) == sentence


def test_what_opened_the_layer_and_what_ended(told: Attribution) -> None:
    assert details(moment(told, 1.14, RL, "compression")) == ["opened by landing since 0.14 s"]
    assert details(moment(told, 1.75, RL, "compression")) == ["no state opens it any more: landing ended 0.05 s ago, it fades out"]
    assert details(moment(told, 0.3, RL, "compression")) == []


def test_what_the_supervisor_changed(told: Attribution) -> None:
    assert sentences(moment(told, 0.5, FL, "compression")) == [
        "front-left compression 26 %: base from the start",
        "the layers ask 30 %, held back by the slew limit",
    ]


def test_a_trim_is_named_beside_the_layer_that_decided(told: Attribution) -> None:
    assert "brake trim takes 5 % off" in details(moment(told, 1.3, RL, "rebound"))


def test_a_speed_that_moved_in_the_air_is_named_with_its_reader(told: Attribution) -> None:
    moved = "vehicle speed moved +31 km/h in the air (wheels off, not held)"
    assert details(moment(_reads(told, 0, vehicle_speed=""), 0.7, RL, "rebound")) == [f"{moved}; base reads it"]
    through = _reads(told, 2, vehicle_speed="cornering")
    assert f"{moved}; landing reads it through cornering" in details(moment(through, 1.1, RL, "rebound"))
    above = _reads(told, 0, vehicle_speed="")
    assert f"{moved}; base reads it" in details(moment(above, 1.1, RL, "compression"))  # the base lies beneath the landing
    assert details(moment(above, 0.5, RL, "rebound")) == []  # it had not moved yet
    assert not any("moved" in line for line in details(moment(told, 1.1, RL, "compression")))  # nobody reads it


def _needs(told: Attribution, **needs: int) -> Attribution:
    return dataclasses.replace(told, layers=tuple(dataclasses.replace(layer, needs=needs) for layer in told.layers))


def test_a_channel_that_is_not_believed_is_named_with_what_depends_on_it(told: Attribution) -> None:
    lines = details(moment(_needs(told, shaft_travel=THIS_CORNER), 1.14, RL, "compression"))
    assert lines == [
        "sensor shaft travel rear-left lost, not believed since 0.14 s: closes base, body hold, landing, brake trim",
        "opened by landing since 0.14 s",
    ]
    not_yet = {name: np.zeros_like(values) for name, values in told.lost.items()}
    early = dataclasses.replace(_needs(told, shaft_travel=THIS_CORNER), lost=not_yet)
    assert details(moment(early, 1.14, RL, "compression")) == [
        "opened by landing since 0.14 s",
        "sensor shaft travel rear-left not believed since 0.14 s; landing and base depend on it",
    ]


@pytest.mark.parametrize(("need", "corner", "closed"), [(THIS_CORNER, FL, False), (ANY, FL, True), (EVERY, RL, False)])
def test_a_lost_channel_closes_by_corner_as_the_stack_has_it(told: Attribution, need: int, corner: int, closed: bool) -> None:
    lines = details(moment(_needs(told, shaft_travel=need), 1.14, corner, "rebound"))
    assert any(line.startswith("sensor shaft travel rear-left lost") for line in lines) is closed


def test_a_fallback_is_not_taken_for_the_base(told: Attribution) -> None:
    here = dataclasses.replace(moment(told, 0.3, RL, "compression"), losses=(Loss("sensor brake", 0.1, ("base",)),))
    assert headline(here) == "rear-left compression 30 %: fallback in place of base"


def test_where_two_calibrations_part() -> None:
    other = SmallStrategy(landing=(0.80, 0.62))
    told = [explain(run_of(strategy), strategy, 0.9, 2.0) for strategy in (SmallStrategy(), other)]
    ours, theirs = (moment(each, 1.14, RL, "compression") for each in told)
    assert parting(ours, theirs, "firmer") == [
        f"firmer: rear-left compression 80 %: landing since 0.14 s, above base 30 %; difference {MINUS}8 %",
        "landing asks 72 %, firmer 80 %",
    ]
    ours, theirs = (moment(each, 1.14, RL, "rebound") for each in told)
    assert parting(ours, theirs, "firmer")[0].endswith("above body hold 36 %; the same duty")
    assert parting(ours, theirs, "firmer")[1:] == ["no layer is open to another extent or asks for another duty"]


def test_layers_that_only_one_has_are_named() -> None:
    strategy = SmallStrategy()
    told = moment(explain(run_of(strategy), strategy, 0.9, 2.0), 1.14, RL, "rebound")
    fewer = dataclasses.replace(told, asks=told.asks[:3])
    assert parting(told, fewer, "other")[1:] == ["brake trim is in this calibration only"]
    assert parting(fewer, told, "other")[1:] == ["brake trim is in other only"]


@pytest.mark.parametrize(
    ("said", "seconds"),
    [("1.25", 1.25), ("touchdown+0.2", 1.2), ("touchdown", 1.0), ("landing#1-.05", 0.95), ("airborne+0.1", 0.5)],
)
def test_an_instant_as_people_say_it(said: str, seconds: float) -> None:
    assert instant(said, run_of(SmallStrategy())) == pytest.approx(seconds)


@pytest.mark.parametrize(
    ("said", "line"),
    [
        ("touchdown+x", r"--at touchdown\+x: expected seconds, or a state with an offset in seconds"),
        ("whoops", "--at whoops: no state 'whoops' is detected here; expected touchdown or one of airborne, landing"),
        ("landing#2", r"--at landing#2: expected landing to open 2 times or more, found 1 \(at 1.00 s\)"),
    ],
)
def test_an_instant_that_is_none(said: str, line: str) -> None:
    with pytest.raises(BadInput, match=line):
        instant(said, run_of(SmallStrategy()))

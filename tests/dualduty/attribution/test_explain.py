"""A window run again: each layer's demand from the snapshots, the same duty to the bit, and since when, beyond the window too."""

from __future__ import annotations

import dataclasses
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from dualduty.attribution import Attribution, explain
from dualduty.attribution.facts import depends_on
from dualduty.attribution.since import Since
from dualduty.errors import BadInput
from dualduty.signals import SIDES
from dualduty.trace import Trace
from tests.dualduty.attribution.small_strategy import BASE, DT, HOLD, LANDING, TRIM, SmallStrategy, run_of


@pytest.fixture(name="told")
def _told() -> Attribution:
    strategy = SmallStrategy()
    return explain(run_of(strategy), strategy, 0.9, 1.95)


def test_after_the_last_layer_stands_what_the_trace_holds_to_the_bit(told: Attribution) -> None:
    whole = run_of(SmallStrategy()).whole()
    assert (told.start, told.ticks) == (90, 106)
    for place, side in enumerate(SIDES):
        np.testing.assert_array_equal(told.after[TRIM, 4 * place : 4 * place + 4], whole.asked[side][:, 90:196, 0])
        np.testing.assert_array_equal(told.duty[4 * place : 4 * place + 4], whole.duty[side][:, 90:196, 0])
        np.testing.assert_array_equal(told.decider[4 * place : 4 * place + 4], whole.layer[side][:, 90:196, 0])


def test_every_layer_has_its_demand_and_its_share(told: Attribution) -> None:
    at = told.column(1.1)
    np.testing.assert_array_equal(told.asked[:, 6, at], [0.20, 0.36, 0.62, -0.0])
    np.testing.assert_array_equal(told.share[:, 6, at], 1.0)
    assert np.isnan(told.asked[HOLD, 2]).all()  # leaves compression alone
    fading = told.column(1.8)
    np.testing.assert_allclose(told.share[LANDING, 6, fading], 0.5, rtol=1e-12)  # rounding of the ramp


def test_since_when_reaches_back_before_the_window(told: Attribution) -> None:
    assert told.since("state airborne", 0, told.column(0.95)) == 40
    assert told.since("state landing", 0, told.column(1.5)) == 100
    assert told.since("decider", 6, told.column(0.95)) == 40  # rebound: base through the flight
    assert told.since("decider", 2, told.column(0.95)) == 0
    assert told.since("decider", 6, told.column(1.3)) == 100
    assert told.since("valid shaft_travel", 2, told.column(1.3)) == 100


@pytest.mark.parametrize("start", [0.0, 0.36, 0.37, 0.38, 1.0, 1.01, 1.11])
def test_since_when_is_the_same_wherever_the_window_and_the_chunks_begin(start: float) -> None:
    strategy = SmallStrategy()
    whole = explain(run_of(strategy, chunk=250), strategy, 0.0, 2.4)
    part = explain(run_of(strategy), strategy, start, 2.4)
    for time in (start, start + 0.05, 1.25, 2.0):
        for name, row in (("decider", 6), ("decider", 1), ("state airborne", 0), ("state landing", 0), ("valid shaft_travel", 2)):
            assert part.since(name, row, part.column(time)) == whole.since(name, row, whole.column(time)), (name, row, time)


def test_one_case_among_others() -> None:
    strategy = SmallStrategy(cases=3)
    told = explain(run_of(strategy), strategy, 0.0, 0.2, case=2)
    assert told.candidate == "candidate 3"
    np.testing.assert_allclose(told.asked[HOLD, 4:, 0], 0.33, rtol=1e-15)
    np.testing.assert_array_equal(told.asked[BASE, :4], 0.30)


def test_a_strategy_that_did_not_make_the_trace_is_refused() -> None:
    with pytest.raises(BadInput, match="asks for other duties; expected the one that made it"):
        explain(run_of(SmallStrategy()), SmallStrategy(landing=(0.8, 0.62)), 0.9, 1.95)


def _without(trace: Trace, **change: Any) -> Trace:
    return Trace.held(trace.header, [dataclasses.replace(chunk, **change) for chunk in trace])


def test_a_trace_that_holds_too_little_says_what_is_missing() -> None:
    strategy = SmallStrategy()
    trace = run_of(strategy)
    with pytest.raises(BadInput, match="holds no shaft_travel to run again from"):
        explain(_without(trace, signals={}), strategy, 0.9, 1.0)
    with pytest.raises(BadInput, match="holds no memory of the strategy"):
        explain(_without(trace, memory=None), strategy, 0.9, 1.0)
    with pytest.raises(BadInput, match=r"3 to 4 s: lies outside kicker"):
        explain(trace, strategy, 3.0, 4.0)


def test_the_window_ends_where_a_padded_section_does() -> None:
    strategy = SmallStrategy()
    trace = run_of(strategy)
    chunks = [dataclasses.replace(c, running=np.where(c.start + np.arange(c.ticks) < 120, 1.0, 0.0)[None, :, None]) for c in trace]
    told = explain(Trace.held(trace.header, chunks), strategy, 1.0, 2.0)
    assert (told.start, told.ticks) == (100, 20)
    assert told.time[-1] == pytest.approx(119 * DT)


def test_what_a_layer_depends_on_names_the_nearest_way() -> None:
    inputs = {"vehicle_speed": ["wheel_speed", "airborne"], "cornering": ["yaw_rate", "vehicle_speed"], "airborne": ["shaft_travel"]}
    assert depends_on(["net_roll_rate"], ["cornering"], inputs) == {
        "net_roll_rate": "", "cornering": "cornering", "yaw_rate": "cornering", "vehicle_speed": "cornering", "wheel_speed": "cornering",
        "airborne": "cornering", "shaft_travel": "cornering",
    }  # fmt: skip
    assert depends_on(["vehicle_speed"], ["cornering"], inputs)["vehicle_speed"] == ""


def test_plug_ins_tell_what_a_layer_reads() -> None:
    def found(kind: str, reads: tuple[str, ...], gives: tuple[str, ...] = ()) -> SimpleNamespace:
        return SimpleNamespace(kind=kind, reads=reads, gives=[SimpleNamespace(name=name) for name in gives])

    plug_ins: Any = SimpleNamespace(by_name={
        "Curves": found("law", ("vehicle_speed",)), "Skyhook": found("law", ("corner_speed",)), "Override": found("law", ()),
        "Trim": found("law", ()), "Speed": found("estimator", ("wheel_speed",), ("vehicle_speed",)),
        "Touch": found("detector", ("shaft_travel",), ("landing",)),
    })  # fmt: skip
    strategy = SmallStrategy()
    told = explain(run_of(strategy), strategy, 0.0, 0.1, plug_ins=plug_ins)
    assert told.layers[BASE].reads == {"vehicle_speed": "", "wheel_speed": "vehicle_speed"}
    assert told.layers[LANDING].reads == {"landing": "landing", "shaft_travel": "landing"}


def test_since_over_random_cuts_is_the_last_change() -> None:
    random = np.random.default_rng(5)
    values = (random.random((6, 200)) > 0.9).cumsum(axis=1) // 3
    for seed in range(5):
        cuts = [0, *sorted(np.random.default_rng(seed).choice(np.arange(1, 200), 7, replace=False).tolist()), 200]
        since = Since()
        for a, b in pairwise(cuts):
            since.take("rows", values[:, a:b], a)
        expected = [int(np.flatnonzero(np.diff(row, prepend=row[0] - 1))[-1]) for row in values]
        np.testing.assert_array_equal(since.ticks["rows"], expected)

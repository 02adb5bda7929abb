"""The shipped strategy over a shipped log: run again from any chunk, the last layer leaves what the trace holds, to the bit."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.attribution import Attribution, explain, moment
from dualduty.attribution.instant import instant
from dualduty.attribution.words import headline
from dualduty.calibration.read import read_calibration
from dualduty.discovery import PlugIns, discover
from dualduty.shipped import shipped_calibrations
from dualduty.signals import SIDES
from dualduty.trace import Trace, TraceChunk
from dualduty.trial.run_sheet import read_run_sheet
from replay.open_loop import replay
from strategies.controller import Strategy
from strategies.stack import ACTS, ADD, DECIDES_AT_WEIGHT, DECIDES_BY_DUTY, SET

WINDOW = (4.9, 6.6)  # s: off the kicker and down again, over several chunks


@pytest.fixture(scope="module", name="plug_ins")
def _plug_ins() -> PlugIns:
    return discover()


@pytest.fixture(scope="module", name="strategy")
def _strategy(plug_ins: PlugIns) -> Strategy:
    baseline = read_calibration(shipped_calibrations() / "strategies" / "marram_baseline.toml", plug_ins)
    return Strategy([baseline], [0], plug_ins, 0.002)


@pytest.fixture(scope="module", name="trace")
def _trace(strategy: Strategy) -> Trace:
    """The first seven seconds of the demo log, in chunks of half a second or so."""
    log = read_run_sheet(shipped_calibrations() / "logs" / "quarry_loop_dash.toml").open()
    chunks: list[TraceChunk] = []
    whole = replay(log, strategy, chunk_ticks=271)
    for chunk in whole:
        chunks.append(chunk)
        if chunk.start * whole.header.dt > 7.0:
            break
    return Trace.held(whole.header, chunks)


@pytest.fixture(scope="module", name="told")
def _told(trace: Trace, strategy: Strategy, plug_ins: PlugIns) -> Attribution:
    return explain(trace, strategy, *WINDOW, plug_ins=plug_ins)


def test_the_last_layer_leaves_what_the_trace_holds_to_the_bit(told: Attribution, trace: Trace) -> None:
    whole = trace.whole()
    here = slice(told.start, told.start + told.ticks)
    for place, side in enumerate(SIDES):
        half = slice(4 * place, 4 * place + 4)
        np.testing.assert_array_equal(told.after[-1, half], whole.asked[side][:, here, 0])
        np.testing.assert_array_equal(told.decider[half], whole.layer[side][:, here, 0])


def test_who_decided_follows_from_what_each_layer_did(told: Attribution) -> None:
    expected = np.zeros_like(told.decider)
    for index, layer in enumerate(told.layers):
        before = told.after[index - 1] if index else np.zeros_like(told.after[0])
        moved = np.abs(told.after[index] - before) > DECIDES_BY_DUTY
        says = ~np.isnan(told.asked[index]) & (ACTS[layer.act] != ADD)
        expected[says & ((told.share[index] >= DECIDES_AT_WEIGHT) if ACTS[layer.act] == SET else moved)] = index
    np.testing.assert_array_equal(told.decider, expected)
    assert len(np.unique(told.decider)) > 2


def test_at_touchdown_the_landing_decides_and_says_since_when(told: Attribution, trace: Trace) -> None:
    at = instant("touchdown+0.2", trace)
    here = moment(told, at, 2, "rebound")
    assert headline(here).startswith("rear-left rebound ")
    assert f": {here.decided.name} since 0.20 s" in headline(here)
    assert [state.name for state in here.opened] == ["landing"]
    assert here.decided.seconds == pytest.approx(0.2, abs=0.003)  # a tick either way
    assert here.duty == pytest.approx(float(told.duty[6, told.column(at)]))


def test_layers_say_through_what_they_read_the_speed(told: Attribution) -> None:
    base = told.layers[0]
    assert base.reads["vehicle_speed"] == ""
    assert base.reads["wheel_speed"] == "vehicle_speed"
    assert "wheel_speed" in base.needs

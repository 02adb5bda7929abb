"""The shipped strategy over a shipped log: run again from any chunk, the last layer leaves what the trace holds, to the bit."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from dualduty.attribution import Attribution, explain, moment
from dualduty.attribution.instant import instant
from dualduty.attribution.words import headline
from dualduty.calibration.read import read_calibration
from dualduty.controller import ControllerOutput
from dualduty.discovery import PlugIns, discover
from dualduty.shipped import shipped_calibrations
from dualduty.signals import CONTROLLER_LAYOUT, SIDES
from dualduty.trace import Case, Header, Trace, TraceChunk
from dualduty.trial.run_sheet import read_run_sheet
from replay.open_loop import replay
from strategies.controller import Strategy
from strategies.stack import ACTS, ADD, DECIDES_AT_WEIGHT, DECIDES_BY_DUTY, SET

REAR_LEFT = 2
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


def _driven(strategy: Strategy, ticks: int = 900, chunk: int = 137) -> Trace:
    """A made-up drive of two candidates that change drive mode at different ticks, one travel channel silent for half a second."""
    time = np.arange(ticks)[:, None] * strategy.dt
    sensed = np.repeat(np.repeat(CONTROLLER_LAYOUT.per_row("rest").reshape(-1, 1, 1), ticks, axis=1), strategy.cases, axis=2)
    rows = CONTROLLER_LAYOUT.rows
    sensed[rows["wheel_speed"]] = 14.0
    sensed[rows["yaw_rate"]] = 0.6 * np.sin(4.0 * time)
    sensed[rows["pitch_rate"]] = 0.4 * np.sin(9.0 * time)
    sensed[rows["shaft_travel"]] = 0.13 + 0.05 * np.sin(11.0 * time + np.arange(4).reshape(4, 1, 1))
    sensed += 1e-4 * np.random.default_rng(2).normal(size=sensed.shape)
    sensed[rows["shaft_travel"].start + REAR_LEFT, 400:650] = np.nan
    mode = np.zeros((1, ticks, strategy.cases), np.int16)
    mode[0, 300:, 0], mode[0, 510:, 1] = 1, 2
    memory, chunks = strategy.start(), []
    for start in range(0, ticks, chunk):
        part = np.ascontiguousarray(sensed[:, start : start + chunk])
        its_mode = np.ascontiguousarray(mode[:, start : start + chunk])
        before, output = memory.snapshot(), strategy.run(part, its_mode, memory)
        named = {field.name: getattr(output, field.name) for field in dataclasses.fields(ControllerOutput)}
        running, signals = np.ones((1, part.shape[1], strategy.cases)), CONTROLLER_LAYOUT.split(part)
        chunks.append(TraceChunk(start=start, signals=signals, mode=its_mode, running=running, memory=before, **named))
    cases = tuple(Case("made-up", calibration.name, "changing") for calibration in strategy.calibrations)
    return Trace.held(Header("simulated", strategy.dt, cases, strategy.modes, strategy.layers, strategy.states), chunks)


@pytest.mark.parametrize("case", [0, 1])
def test_one_candidate_among_others_through_a_change_of_mode_and_a_lost_channel(case: int, plug_ins: PlugIns) -> None:
    folder = shipped_calibrations() / "strategies"
    calibrations = [read_calibration(folder / f"{name}.toml", plug_ins) for name in ("marram_baseline", "firm_landing")]
    strategy = Strategy(calibrations, [0, 1], plug_ins, 0.002)
    trace = _driven(strategy)
    told = explain(trace, strategy, 0.5, 1.75, case, plug_ins)
    whole = trace.whole()
    np.testing.assert_array_equal(told.after[-1, 4:], whole.asked["rebound"][:, 250:876, case])
    np.testing.assert_array_equal(told.mode, whole.mode[0, 250:876, case])
    assert told.candidate == calibrations[case].name
    here = moment(told, 1.25, REAR_LEFT, "rebound")
    assert [loss.channel for loss in here.losses] == ["sensor shaft travel rear-left"]
    assert here.losses[0].seconds == pytest.approx(1.25 - 0.8, abs=0.003)  # silent from 0.8 s on, a tick either way
    assert "body hold" in here.losses[0].closes
    assert "body hold" not in {name for loss in moment(told, 1.25, 1, "rebound").losses for name in loss.closes}

"""Recordings that nobody here made, through a channel map into the stack any controller can run."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.calibration.read import read_calibration
from dualduty.controller import PackedOutput
from dualduty.discovery import discover
from dualduty.shipped import shipped_calibrations
from dualduty.signals import CONTROLLER_LAYOUT
from dualduty.units import STANDARD_GRAVITY
from replay.at_controller_rate import at_controller_rate
from replay.log import Log
from replay.open_log import open_log
from strategies.controller import Strategy
from tests.replay import foreign_recordings as foreign
from tests.replay.made_up_logs import write_map

pytestmark = pytest.mark.network

DT = 0.002


def opened(member: str, map_text: str, folder: Path) -> Log:
    """A foreign recording as a log; the test is skipped where it can't be fetched."""
    try:
        path = foreign.recording(member)
    except foreign.NotReachable as reason:
        pytest.skip(str(reason))
    return open_log(path, write_map(folder, map_text))


def sensed_stack(log: Log, dt: float = DT) -> NDArray[np.float64]:
    """`(row, time, 1)` by CONTROLLER_LAYOUT, as a controller with this step would have seen it."""
    hold = log.channel_map.longest_hold
    chunks = at_controller_rate(log.parts(), dt, streams=log.streams, bridges=log.bridges, longest_hold=hold)
    values = np.concatenate([chunk.values for chunk in chunks], axis=1)
    return np.ascontiguousarray(values[: CONTROLLER_LAYOUT.size, :, None])


@pytest.fixture
def hand_waved(tmp_path: Path) -> Log:
    return opened(foreign.HAND_WAVED, foreign.HAND_WAVED_MAP, tmp_path)


@pytest.fixture
def stamped(tmp_path: Path) -> Log:
    return opened(foreign.STAMPED, foreign.STAMPED_MAP, tmp_path)


def test_the_rate_stated_in_the_map_is_that_of_the_recorders_own_clock(hand_waved: Log) -> None:
    samples = sum(len(part.time) for part in hand_waved.parts())
    with foreign.recording(foreign.HAND_WAVED_CLOCK).open(encoding="utf-8") as file:
        clock = [int(row["Minutes"]) * 60 + int(row["Seconds"]) for row in csv.DictReader(file)]
    # its clock tells whole seconds: one second of 49 at either end
    assert samples / 256 == pytest.approx(clock[-1] - clock[0], abs=1.0)


def test_what_was_felt_is_believable_and_in_si(hand_waved: Log) -> None:
    signals = CONTROLLER_LAYOUT.split(sensed_stack(hand_waved))
    felt = np.sqrt(sum(signals[f"specific_force_{axis}"] ** 2 for axis in "xyz"))
    # waved by hand about 1 g: the file's own table gives 0.085 g to 5.39 g and a median of 1.011 g
    assert float(np.median(felt)) == pytest.approx(STANDARD_GRAVITY, rel=0.02)
    assert felt.max() / STANDARD_GRAVITY == pytest.approx(5.39, abs=0.01)
    assert np.abs(signals["roll_rate"]).max() == pytest.approx(np.deg2rad(555.4), rel=1e-3)
    assert np.isnan(signals["shaft_travel"]).all()


def test_low_felt_force_is_there_but_short(hand_waved: Log) -> None:
    """What makes this recording useful: short stretches of low felt force that are no flight."""
    signals = CONTROLLER_LAYOUT.split(sensed_stack(hand_waved))
    felt = np.sqrt(sum(signals[f"specific_force_{axis}"] ** 2 for axis in "xyz"))[0, :, 0]
    edges = np.flatnonzero(np.diff(np.concatenate([[0], felt < 0.5 * STANDARD_GRAVITY, [0]]).astype(int)))
    lengths = (edges[1::2] - edges[::2]) * DT
    # 31 stretches of 4 to 39 ms at 256 Hz; a sample held over ticks of 2 ms adds up to one tick
    assert len(lengths) == 31
    assert lengths.max() == pytest.approx(0.039, abs=0.0041)


def test_the_recording_has_neither_gaps_nor_blanks(hand_waved: Log) -> None:
    sensed_stack(hand_waved)
    assert hand_waved.notices == []


def test_uneven_stamps_in_microseconds_keep_their_own_clock(stamped: Log) -> None:
    part, end = stamped.parts()
    assert end.ended
    steps = np.diff(part.time)
    # 20.011 to 20.058 ms in the file
    assert steps.min() == pytest.approx(0.020011, abs=1e-9)
    assert steps.max() == pytest.approx(0.020058, abs=1e-9)
    assert stamped.notices == []
    stack = sensed_stack(stamped)
    assert stack.shape == (CONTROLLER_LAYOUT.size, int(part.time[-1] / DT) + 1, 1)
    # a sample at 50 Hz is held for 20 ms: ten or eleven ticks, never NaN
    values = CONTROLLER_LAYOUT.split(stack)["specific_force_z"][0, :, 0]
    assert np.isfinite(values).all()
    assert set(np.diff(np.flatnonzero(np.diff(values)))) <= {10, 11, 20, 21}


def test_no_flight_is_seen_in_a_waved_hand(hand_waved: Log) -> None:
    """31 stretches of low felt force, the longest 39 ms, none of them a flight: the shipped airborne detector stays shut.

    The recording has no travel, so the intake stands in rest values for it, as for a vehicle whose travel sensors failed.
    """
    output = _replayed(hand_waved)
    assert not output.states["airborne"].any()
    assert not output.states["landing"].any()


def test_a_long_fall_would_have_been_seen(hand_waved: Log) -> None:
    """The same path with half a second of free fall and shafts that come out of it written over the recording: the detector opens.

    They come out in 0.3 s and without a jerk: a jerk would be felt, in the body and as the hubs' own force, and a hand has no hubs.
    """
    stack = sensed_stack(hand_waved)
    fall = slice(2000, 2250)
    for axis in "xyz":
        stack[CONTROLLER_LAYOUT.rows[f"specific_force_{axis}"], fall] = 0.3
    stack[CONTROLLER_LAYOUT.rows["shaft_travel"]] = 0.1
    out = np.minimum(np.arange(250) * DT / 0.3, 1.0)
    stack[CONTROLLER_LAYOUT.rows["shaft_travel"], fall, 0] = 0.055 + 0.045 * np.cos(np.pi * out)
    output = _run(stack)
    assert output.states["airborne"][0, fall.start + 50 : fall.stop, 0].all()  # measured 76 ms after the fall begins, asserted from 100 ms
    assert output.states["airborne_likely"][0, fall.start + 25 : fall.stop, 0].all()  # 30 ms
    assert not output.states["airborne"][0, fall.stop + 10 :, 0].any()  # 12 ms


def _replayed(log: Log) -> PackedOutput:
    return _run(sensed_stack(log))


def _run(stack: NDArray[np.float64]) -> PackedOutput:
    plug_ins = discover()
    calibration = read_calibration(shipped_calibrations() / "strategies" / "marram_baseline.toml", plug_ins)
    strategy = Strategy([calibration], [0], plug_ins, DT)
    return strategy.run(stack, np.ones((1, stack.shape[1], 1), np.int16), strategy.start())

"""Faults put into a frame: each does what it says, where it says, and nothing else."""

from __future__ import annotations

import itertools
import zlib
from functools import cache

import numpy as np
import pytest

from dualduty.trial.demo_session import faults
from dualduty.trial.demo_session.columns import BY_NAME
from dualduty.trial.demo_session.frame import Frame
from dualduty.trial.demo_session.recipes import LOST, LOST_ON, RECIPES, Places, marker_presses, with_faults, with_wrong_wiring

SECONDS = 120.0


def made_up(seconds: float = SECONDS) -> Frame:
    """A log of all columns, each a noise of its own."""
    columns = noise(round(200 * seconds))
    return Frame(np.arange(len(columns["marker"])) / 200.0, {name: values.copy() for name, values in columns.items()})


@cache
def noise(samples: int) -> dict[str, np.ndarray]:
    columns = {}
    for name, column in BY_NAME.items():
        values = np.random.default_rng(zlib.crc32(name.encode())).normal(0.0, 20.0, samples)
        values[np.arange(samples) % column.every != 0] = np.nan
        columns[name] = values
    columns["marker"] = np.zeros(samples)
    return columns


def changed(frame: Frame, name: str) -> np.ndarray:
    """Where a column isn't as it was made."""
    before = noise(round(200 * SECONDS))[name]
    return np.flatnonzero(~((frame.columns[name] == before) | (np.isnan(frame.columns[name]) & np.isnan(before))))


def test_a_dropout_leaves_its_window_blank_and_nothing_else() -> None:
    frame = made_up()
    faults.dropout(frame, "travel_fl_mm", 10.0, 10.5)
    assert np.array_equal(changed(frame, "travel_fl_mm"), np.arange(2000, 2100))
    assert np.isnan(frame.columns["travel_fl_mm"][2000:2100]).all()
    assert len(changed(frame, "travel_fr_mm")) == 0


def test_a_stuck_column_keeps_its_blanks() -> None:
    frame = made_up()
    done = faults.stuck(frame, "steer_deg", 20.0, 22.0)
    window = frame.columns["steer_deg"][4000:4400]
    assert np.isfinite(window).sum() == 100
    assert np.unique(window[np.isfinite(window)]).size == 1
    assert done.details["value"] == pytest.approx(window[0], abs=0.005)


def test_spikes_are_single_samples_at_the_moments_told() -> None:
    frame = made_up()
    done = faults.spikes(frame, "accel_z_g", (30.0, 50.0), 6.0, np.random.default_rng(1))
    at = changed(frame, "accel_z_g")
    assert np.diff(at).min() > 1
    assert frame.time[at].tolist() == pytest.approx(done.details["moments_s"], abs=5e-4)
    assert np.abs(frame.columns["accel_z_g"][at] - made_up().columns["accel_z_g"][at]) == pytest.approx(6.0)


def test_saturation_cuts_both_ways_at_one_range() -> None:
    frame = made_up()
    done = faults.saturated(frame, "accel_z_g", 2e-3)
    values = frame.columns["accel_z_g"]
    assert values.max() == done.details["high"]
    assert values.min() == done.details["low"] == -done.details["high"]
    assert len(changed(frame, "accel_z_g")) == done.details["samples"] > 20


def test_the_bus_comes_late_as_a_whole_and_keeps_its_raster() -> None:
    frame = made_up()
    done = faults.late_bus(frame, 12)
    assert done.details == {"latency_ms": 60.0}
    for name in ("steer_deg", "brake_pct", "wheel_speed_rr_km_h"):
        assert np.array_equal(frame.columns[name][12:], made_up().columns[name][:-12], equal_nan=True)
        assert np.isfinite(frame.columns[name][::4]).all()
    assert len(changed(frame, "accel_x_g")) == 0


def test_stamps_repeat_and_go_back_where_told() -> None:
    frame = made_up()
    twice, back = faults.duplicated_stamp(frame, 40.0), faults.backward_stamp(frame, 60.0)
    steps = np.diff(frame.stamps)
    assert np.flatnonzero(steps == 0.0).tolist() == [7999]
    assert np.flatnonzero(steps < 0.0).tolist() == [11999]
    assert (twice.start, back.start) == (40.0, 60.0)


def test_a_unit_turned_left_shows_the_cars_y_ahead_and_its_backward_to_the_left() -> None:
    frame, sound = made_up(), made_up()
    faults.turned_left(frame)
    for ahead, left in (("accel_x_g", "accel_y_g"), ("roll_rate_deg_s", "pitch_rate_deg_s")):
        assert np.array_equal(frame.columns[ahead], sound.columns[left])
        assert np.array_equal(frame.columns[left], -sound.columns[ahead])
    assert len(changed(frame, "accel_z_g")) == len(changed(frame, "yaw_rate_deg_s")) == 0


def test_a_fresh_log_has_its_three_faults_and_two_presses() -> None:
    frame = made_up()
    presses = marker_presses(frame, 2, 5)
    done = with_wrong_wiring(frame, {LOST_ON: (50.0, 57.0)}, 5)
    assert [fault.kind for fault in done] == ["turned", "inverted", "dropout"]
    assert 50.0 < done[2].start < done[2].end < 57.0
    assert done[2].end - done[2].start == pytest.approx(0.8)
    assert np.isnan(frame.columns[LOST]).sum() == 160
    pressed = np.diff(np.concatenate([[0.0], frame.columns["marker"]])) > 0
    assert frame.time[pressed].tolist() == pytest.approx(presses, abs=0.006)
    assert len(presses) == 2


@pytest.mark.parametrize("name", sorted(RECIPES))
def test_a_session_gets_the_same_faults_from_the_same_seed_and_they_keep_apart(name: str) -> None:
    one, other = made_up(), made_up()
    first, second = with_faults(one, name, 7), with_faults(other, name, 7)
    assert [fault.to_row() for fault in first] == [fault.to_row() for fault in second]
    assert with_faults(made_up(), name, 8) != first
    placed = [fault for fault in first if fault.start > 0.0 and fault.kind != "saturation"]
    assert len(placed) >= 5
    for before, after in itertools.pairwise(placed):
        assert after.start - before.end > 0.5


def test_a_clean_log_gets_none() -> None:
    frame = made_up()
    assert with_faults(frame, "clean_dash", 1) == []
    assert all(len(changed(frame, name)) == 0 for name in frame.columns)


def test_no_room_for_a_fault_is_said() -> None:
    places = Places(made_up(4.0), np.random.default_rng(1))
    with pytest.raises(ValueError, match="no room for another fault in 4 s"):
        _ = [places.window(0.5, 1.0) for _ in range(20)]

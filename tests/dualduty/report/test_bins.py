"""The fold keeps peaks, cuts anywhere, and doesn't grow."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.report.bins import Bins, Envelope


def fold(rule: np.ufunc, values: np.ndarray, cut: int, most: int) -> Bins:
    bins = Bins(rule, most)
    for start in range(0, values.shape[1], cut):
        bins.take(values[:, start : start + cut])
    return bins


@pytest.mark.parametrize("ticks", [1, 31, 32, 33, 1000, 4097])
@pytest.mark.parametrize("cut", [1, 7, 10_000])
def test_every_bin_holds_the_extreme_of_its_own_ticks(ticks: int, cut: int) -> None:
    values = np.random.default_rng(ticks).normal(size=(3, ticks))
    bins = fold(np.fmax, values, cut, most=32)
    result = bins.result()
    wanted = [values[:, start : start + bins.width].max(axis=1) for start in range(0, ticks, bins.width)]
    np.testing.assert_array_equal(result, np.array(wanted).T)
    assert result.shape[1] <= 33


def test_a_single_spike_in_a_long_recording_is_still_there() -> None:
    values = np.zeros((1, 100_000))
    values[0, 77_777] = 42.0
    envelope = Envelope(200)
    for start in range(0, 100_000, 999):
        envelope.take(values[:, start : start + 999])
    time, drawn = envelope.points(0.001)
    assert drawn.shape[1] <= 2 * 201
    place = int(np.argmax(drawn[0]))
    assert drawn[0, place] == 42.0
    assert abs(time[place] - 77.777) <= 0.001 * envelope.low.width


def test_short_recordings_are_drawn_tick_by_tick() -> None:
    envelope = Envelope(200)
    envelope.take(np.arange(50.0)[None])
    time, drawn = envelope.points(0.1, start=3.0)
    np.testing.assert_array_equal(drawn[0], np.arange(50.0))
    np.testing.assert_allclose(time, 3.0 + 0.1 * np.arange(50), rtol=1e-15)  # rtol: one rounding


def test_gaps_stay_gaps_and_lone_missing_samples_hide_nothing() -> None:
    values = np.ones((1, 400))
    values[0, 100:200] = np.nan
    values[0, 300] = np.nan
    result = fold(np.fmin, values, 37, most=100).result()
    assert np.isnan(result[0, 25:50]).all()
    assert not np.isnan(result[0, 50:]).any()


def test_flags_of_a_bin_are_joined() -> None:
    flags = np.zeros((1, 64), dtype=np.uint8)
    flags[0, 3], flags[0, 5] = 1, 8
    result = fold(np.bitwise_or, flags, 5, most=8).result()
    assert result[0, 0] == 9
    assert result.dtype == np.uint8

"""The slow copy: the same however parts are cut, without a shift, holes stay holes."""

from __future__ import annotations

import numpy as np
import pytest

from replay.health.marker_presses import MarkerPresses
from replay.health.slow_copy import RATE
from tests.replay.health.hand_made_parts import HandMade, clock, driving


@pytest.mark.parametrize("size", [37, 1700, 50_000])
def test_it_does_not_depend_on_how_parts_are_cut(size: int) -> None:
    made = HandMade(driving())
    np.testing.assert_array_equal(made.slow(size).copy, made.slow(999).copy)


@pytest.mark.parametrize("rate", [50.0, 200.0, 333.0])
def test_a_slow_wave_comes_through_without_a_shift(rate: float) -> None:
    time = clock(40.0, rate)
    motion = HandMade((time, {"yaw_rate": np.sin(2 * np.pi * 0.5 * time)})).slow()
    wave = np.sin(2 * np.pi * 0.5 * motion.time)
    inner = slice(5, -5)
    # a mean over 40 ms takes 0.07 % off, straight lines between means 0.2 %; a shift by one sample at 50 Hz would make 6 %
    np.testing.assert_allclose(motion.one("yaw_rate")[inner], wave[inner], atol=4e-3)


def test_a_long_hole_stays_and_a_short_one_is_bridged() -> None:
    time, signals = driving()
    signals["yaw_rate"][1000:1200] = np.nan
    signals["yaw_rate"][2000:2020] = np.nan
    values = HandMade((time, signals)).slow().one("yaw_rate")
    assert np.isnan(values[round(5.1 * RATE) : round(5.9 * RATE)]).all()
    assert np.isfinite(values[round(9.0 * RATE) : round(11.0 * RATE)]).all()


def test_presses_are_counted_once_each() -> None:
    time, signals = driving()
    pressed = (np.abs(time - 4.0) < 0.1) | (np.abs(time - 4.15) < 0.02) | (np.abs(time - 12.0) < 0.4)
    made = HandMade((time, signals | {"marker": pressed.astype(float)}))
    presses = MarkerPresses(made.channels)
    for part in made.parts(130):
        presses.see(part)
    # the second rise comes 230 ms after the first: a thumb that slips
    assert presses.times == pytest.approx([3.905, 11.605], abs=0.0051)


def test_without_a_marker_channel_there_is_none() -> None:
    assert not MarkerPresses(HandMade(driving()).channels).there

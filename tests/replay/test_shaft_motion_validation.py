"""Shaft speed from raw travel against motions whose speed is known."""

from __future__ import annotations

import numpy as np
import pytest

from replay.array_log import log_of_arrays
from replay.log import Log
from replay.shaft_motion import derivative, shaft_motion


def log_of(time: np.ndarray, travel: np.ndarray, **more: np.ndarray) -> Log:
    return log_of_arrays(time, {"shaft_travel": np.broadcast_to(travel, (4, len(time))), **more}, "dash")


def speed_of(log: Log, corner: int = 0, window: tuple[float, float] = (0.0, np.inf)) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Time, travel and speed of one corner."""
    found = [motion for _, motion in shaft_motion(log, window) if motion.corner == corner]
    time, travel, speed = (np.concatenate([getattr(motion, name) for motion in found]) for name in ("time", "travel", "speed"))
    return time, travel, speed


@pytest.mark.validates("closed form: the slope of a sine is its amplitude times its angular frequency, a quarter turn ahead")
@pytest.mark.parametrize("rate", [200.0, 500.0, 1000.0])
@pytest.mark.parametrize("hz", [1.5, 13.0])
def test_a_sine_keeps_its_speed_and_does_not_lag(rate: float, hz: float) -> None:
    time = np.arange(round(6.0 * rate)) / rate
    turns = 2.0 * np.pi * hz
    at, _, speed = speed_of(log_of(time, 0.1 + 0.01 * np.sin(turns * time)))
    inside = (at > 1.0) & (at < 5.0)
    known = 0.01 * turns * np.cos(turns * at[inside])
    # worst 0.34 % of the amplitude, at 13 Hz; a lag of a hundredth of a period would make 6 %
    np.testing.assert_allclose(speed[inside], known, atol=0.005 * 0.01 * turns)


@pytest.mark.validates("closed form: sums of the filter's own weights; what the docstring says of them")
@pytest.mark.parametrize("step", [0.001, 0.002, 0.005, 0.01])
def test_what_is_said_of_the_filter_holds(step: float) -> None:
    rule = derivative(step)
    assert rule.passed(np.array([1e-3]))[0] == pytest.approx(1.0, abs=1e-3)  # a ramp keeps its slope
    np.testing.assert_allclose(rule.weights, -rule.weights[::-1], atol=1e-9)  # odd about the middle: no lag
    hz = np.linspace(0.5, min(1.5 * rule.cut_off, 0.45 / step), 40)
    time = np.arange(-rule.window, rule.window + 1) * step
    for one in hz.tolist():
        slope = rule.slope(np.sin(2 * np.pi * one * time))[rule.window]
        assert slope / (2 * np.pi * one) == pytest.approx(rule.passed(np.array([one]))[0], abs=1e-12)
    noise = np.random.default_rng(2).standard_normal(40_000)
    assert np.std(rule.slope(noise)[200:-200]) == pytest.approx(rule.noise_gain, rel=0.02)  # 40,000 draws: 0.5 % each way
    assert rule.noise(noise) == pytest.approx(1.0, rel=0.03)
    if step <= 0.005:
        assert abs(rule.error_at_hop) < 0.007


@pytest.mark.validates("closed form: the speeds of a sine are distributed by the arcsine law")
def test_the_speeds_of_a_sine_follow_the_arcsine_law() -> None:
    time = np.arange(0.0, 60.0, 0.005)
    at, _, speed = speed_of(log_of(time, 0.1 + 0.02 * np.sin(2 * np.pi * 1.7731 * time)))
    inside = speed[(at > 0.5) & (at < 59.5)]
    peak = 0.02 * 2 * np.pi * 1.7731  # no whole number of samples a period, so that all phases come
    for share in (0.1, 0.4, 0.8):
        told = float((np.abs(inside) < share * peak).mean())
        assert told == pytest.approx(2.0 / np.pi * np.arcsin(share), abs=0.003)  # worst here 0.0011; the peak is 0.3 % too high


@pytest.mark.validates("closed form: the same parabola, whatever the stamps do")
def test_stamps_that_jump_to_and_fro_make_no_speed() -> None:
    ticks = np.unique(np.floor(np.arange(0, 5000, 2.5)).astype(int))
    time = ticks * 0.002  # 4 and 6 ms in turn
    at, travel, speed = speed_of(log_of(time, 0.1 + 0.05 * time - 0.004 * time**2))
    inside = (at > 0.5) & (at < 9.0)
    assert np.median(np.diff(at)) == pytest.approx(0.005, rel=1e-3)
    np.testing.assert_allclose(speed[inside], 0.05 - 0.008 * at[inside], atol=1e-5)
    np.testing.assert_allclose(travel[inside], 0.1 + 0.05 * at[inside] - 0.004 * at[inside] ** 2, atol=1e-9)


@pytest.mark.validates("law of nature: where blocks are cut changes nothing, and nothing is told of a gap or near it")
def test_blocks_join_and_gaps_are_left_out() -> None:
    random = np.random.default_rng(3)
    time = np.arange(0.0, 65.0, 0.005)
    travel = 0.1 + 0.02 * np.sin(2 * np.pi * 3.0 * time) + 1e-4 * random.standard_normal(len(time))
    travel[8000:8040] = np.nan  # 40.0 to 40.2 s
    travel[3000] = np.nan  # one sample: bridged
    log = log_of(time, travel)
    at, _, speed = speed_of(log)
    np.testing.assert_allclose(np.diff(at), 0.005, atol=1e-9)  # blocks of 20 s join
    blank = at[np.isnan(speed) & (at > 1.0) & (at < 64.0)]
    half = derivative(0.005).window // 2 * 0.005
    assert blank.min() == pytest.approx(40.0 - half, abs=0.011)
    assert blank.max() == pytest.approx(40.195 + half, abs=0.011)
    later, _, part = speed_of(log, window=(17.0, 23.0))
    assert (later[0], later[-1]) == (pytest.approx(17.0), pytest.approx(22.995))
    whole = speed[np.searchsorted(at, 17.0 - 1e-6) :][: len(part)]
    np.testing.assert_allclose(part, whole, atol=1e-9)


@pytest.mark.validates("law of nature: of a window longer than the recording nothing is told")
def test_samples_seconds_apart_tell_no_shaft_speed() -> None:
    time = np.arange(400) * 5.0  # as where the map says s and the logger wrote ms
    for window in ((0.0, np.inf), (3.0, 14.0)):
        found = [motion for _, motion in shaft_motion(log_of(time, 0.1 + 0.01 * np.sin(time)), window)]
        assert all(np.isnan(motion.speed).all() for motion in found)

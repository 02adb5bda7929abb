"""Gaps of a clock, recording pauses, jitter and stamps out of order."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from numpy.typing import NDArray

from replay.health.clock_gaps import ClockGaps
from replay.health.clock_jitter import ClockJitter
from replay.health.finding import IMPAIRS, NOTE, SPOILS
from replay.health.stamps import stamp_findings
from replay.notice import Notice
from tests.replay.health.hand_made_parts import HandMade, clock, driving

Array = NDArray[np.float64]


def without(stretch: tuple[float, float], time: Array, signals: Mapping[str, Array]) -> tuple[Array, dict[str, Array]]:
    keep = (time < stretch[0]) | (time >= stretch[1])
    return time[keep], {name: values[..., keep] for name, values in signals.items()}


def test_an_even_clock_has_none() -> None:
    assert HandMade(driving()).found(ClockGaps) == []
    assert HandMade(driving()).found(ClockJitter) == []


@pytest.mark.parametrize(("length", "severity"), [(0.2, IMPAIRS), (0.5, SPOILS)])
def test_a_gap_is_placed(length: float, severity: str) -> None:
    (found,) = HandMade(without((8.0, 8.0 + length), *driving())).found(ClockGaps)
    assert (found.kind, found.severity) == ("gap", severity)
    assert (found.start, found.end) == pytest.approx((8.0, 8.0 + length), abs=0.0051)


def test_short_gaps_are_told_in_one_line() -> None:
    made = driving()
    for start in (3.0, 6.0, 9.0):
        made = without((start, start + 0.04), *made)
    (found,) = HandMade(made).found(ClockGaps)
    assert (found.kind, found.severity) == ("short gaps", NOTE)
    assert "3 short gaps, the longest 45 ms, the first at 3.00 s" in found.text.replace("2.99 s", "3.00 s")


def test_a_pause_with_the_vehicle_at_rest_is_told_from_one_on_the_move() -> None:
    time, signals = driving()
    (moving,) = HandMade(without((8.0, 11.0), time, signals)).found(ClockGaps)
    assert (moving.kind, moving.severity) == ("pause", SPOILS)
    assert "36 km/h before" in moving.text
    signals["wheel_speed"][:, (time > 6.0) & (time < 13.0)] = 0.0
    (resting,) = HandMade(without((8.0, 11.0), time, signals)).found(ClockGaps)
    assert (resting.kind, resting.severity) == ("pause", NOTE)


def test_one_clock_of_two_that_stands_is_a_gap_not_a_pause() -> None:
    time, signals = driving()
    wheels = {"wheel_speed": signals.pop("wheel_speed")}
    (found,) = HandMade((time, signals), without((8.0, 11.0), time, wheels)).found(ClockGaps)
    assert (found.kind, found.channel) == ("gap", "clock of group 1")
    both = HandMade(without((8.0, 11.0), time, signals), without((8.0, 11.0), time, wheels)).found(ClockGaps)
    assert [found.kind for found in both] == ["pause"]


@pytest.mark.parametrize(("scatter", "severity"), [(1.8e-3, NOTE), (3e-3, IMPAIRS)])
def test_jitter_is_told_with_its_size(scatter: float, severity: str) -> None:
    time, signals = driving()
    uneven = time + np.random.default_rng(2).uniform(-scatter, scatter, len(time))
    uneven = np.maximum.accumulate(uneven) + 1e-6 * np.arange(len(time))
    (found,) = HandMade((uneven, signals)).found(ClockJitter)
    assert (found.kind, found.severity) == ("jitter", severity)


def test_stamps_of_a_logger_that_rounds_to_ticks_are_no_jitter() -> None:
    time, signals = driving()
    assert HandMade((np.floor(time / 0.002) * 0.002, signals)).found(ClockJitter) == []  # 4 and 6 ms in turn: 20 %


def test_what_was_set_aside_is_told_with_its_share() -> None:
    notices = [
        Notice("stamp", "", np.nan, 0.0, "run.csv line 12: time stands still at 4; set aside"),
        Notice("stamps", "", np.nan, 0.0, "3 of 12000 samples set aside: stamped not after the one before"),
    ]
    (found,) = stamp_findings(notices)
    assert (found.kind, found.severity) == ("stamps", NOTE)
    assert "line 12" in found.text
    (many,) = stamp_findings([Notice("stamps", "", np.nan, 0.0, "6000 of 12000 samples set aside: stamped not after the one before")])
    assert many.severity == SPOILS
    assert stamp_findings([]) == []


def test_the_clock_helper_is_even() -> None:
    assert np.ptp(np.diff(clock(1.0))) < 1e-12


def test_samples_seconds_apart_spoil_the_log_and_ask_for_the_unit() -> None:
    """Milliseconds that the map takes for seconds: told before anything else is."""
    time, signals = driving()
    (found,) = HandMade((1e3 * time, signals)).found(ClockGaps)
    assert (found.kind, found.severity, found.whole) == ("slow clock", SPOILS, True)
    assert "samples 5 s apart" in found.text
    assert "unit" in found.remedy


def test_a_slow_clock_beside_a_quick_one_is_none() -> None:
    time, signals = driving()
    slow = (time[::200], {"steer_angle": np.zeros(len(time[::200]))})
    quick = (time, {name: values for name, values in signals.items() if name != "steer_angle"})
    assert HandMade(quick, slow).found(ClockGaps) == []
    assert HandMade((slow[0], {"brake": slow[1]["steer_angle"]})).found(ClockGaps) == []

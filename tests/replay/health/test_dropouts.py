"""Dropouts: found, placed, several channels as one, slow channels left alone."""

from __future__ import annotations

import numpy as np
import pytest

from replay.health.dropouts import Dropouts
from replay.health.finding import IMPAIRS, NOTE, SPOILS
from tests.replay.health.hand_made_parts import HandMade, driving, of_kind


def test_sound_channels_have_none() -> None:
    assert HandMade(driving()).found(Dropouts) == []


@pytest.mark.parametrize("size", [160, 1700, 10_000])
@pytest.mark.parametrize(("length", "severity"), [(0.15, IMPAIRS), (0.8, SPOILS)])
def test_a_dropout_is_placed_to_the_sample_however_parts_are_cut(length: float, severity: str, size: int) -> None:
    time, signals = driving()
    signals["shaft_travel"][2, (time >= 7.0) & (time < 7.0 + length)] = np.nan
    (found,) = HandMade((time, signals)).found(Dropouts, size)
    assert (found.kind, found.channel, found.severity) == ("dropout", "rear-left travel", severity)
    assert (found.start, found.end) == pytest.approx((7.0, 7.0 + length), abs=0.0051)  # a sample
    assert "travel scores" in found.effect


def test_it_says_its_length_as_the_verdict_will() -> None:
    time, signals = driving()
    signals["shaft_travel"][2, 1400:1560] = np.nan
    (found,) = HandMade((time, signals)).found(Dropouts)
    assert found.brief == "0.8 s dropout"


def test_channels_that_go_together_are_one_finding() -> None:
    time, signals = driving()
    for name in ("roll_rate", "pitch_rate", "yaw_rate", "specific_force_z"):
        signals[name][1000:1200] = np.nan
    (found,) = HandMade((time, signals)).found(Dropouts)
    assert len(found.rows) == 4
    assert "and 2 more" in found.channel


def test_one_that_lasts_to_the_end_is_found() -> None:
    time, signals = driving()
    signals["yaw_rate"][3000:] = np.nan
    (found,) = HandMade((time, signals)).found(Dropouts)
    assert found.start == pytest.approx(15.0, abs=0.0051)
    assert found.end == pytest.approx(time[-1], abs=0.0051)


def test_blanks_between_the_values_of_a_slow_channel_are_its_rhythm() -> None:
    time, signals = driving()
    signals["wheel_speed"][:, np.arange(len(time)) % 4 != 0] = np.nan
    assert HandMade((time, signals)).found(Dropouts) == []
    signals["wheel_speed"][1, 2000:2100] = np.nan
    (found,) = HandMade((time, signals)).found(Dropouts)
    assert found.channel == "front-right wheel speed"
    assert found.start == pytest.approx(10.0, abs=0.021)  # a value every 20 ms


def test_what_the_map_bridges_is_none() -> None:
    time, signals = driving()
    signals["yaw_rate"][1000:1030] = np.nan
    assert len(HandMade((time, signals)).found(Dropouts)) == 1
    assert of_kind(HandMade((time, signals), bridge=0.2).found(Dropouts), "dropout") == []


@pytest.mark.parametrize("stretch", [(5.0, 6.0), (8.4, 9.0)])
def test_a_clock_that_stands_is_no_dropout(stretch: tuple[float, float]) -> None:
    """Neither within a part, nor from one part of 1,700 samples to the next."""
    time, signals = driving()
    signals["yaw_rate"][100] = np.nan  # looked at sample by sample
    keep = (time < stretch[0]) | (time > stretch[1])
    assert HandMade((time[keep], {name: values[..., keep] for name, values in signals.items()})).found(Dropouts) == []


def test_single_values_missing_are_told_in_one_line() -> None:
    time, signals = driving()
    lost = np.random.default_rng(3).random(len(time)) < 0.005
    signals["yaw_rate"][lost] = signals["roll_rate"][lost] = np.nan
    (found,) = HandMade((time, signals)).found(Dropouts)
    assert (found.kind, found.severity, len(found.rows)) == ("missing values", NOTE, 2)
    told = float(found.text.split("up to ")[1].split(" %")[0])
    assert told == pytest.approx(100 * lost.mean(), abs=0.05)  # two digits of 0.65


def test_a_channel_without_any_value_is_empty() -> None:
    time, signals = driving()
    signals["shaft_travel"][1] = np.nan
    (found,) = HandMade((time, signals)).found(Dropouts)
    assert (found.kind, found.severity, found.whole) == ("empty", SPOILS, True)

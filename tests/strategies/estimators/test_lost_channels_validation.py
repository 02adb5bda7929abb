"""What is left of attitude, corner speed and tyre force when a channel is lost after a second, against the plant's truth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.strategies.estimators.lane import DT, Driven, estimate, late
from tests.strategies.estimators.test_corner_speed_validation import true_speeds

Array = NDArray[np.float64]
SINCE = 500  # ticks
DEG = np.pi / 180
SECTIONS = ("constant_radius", "iso_road", "braking_straight")
LIMITS = {  # roll, pitch [deg], corner speed [m/s], tyre force [N]: worst of the sections; measured values beside each
    "": (1.7, 0.7, 0.07, 280.0),  # 1.5, 0.6, 0.05, 263
    "roll_rate": (2.0, 0.8, 0.11, 330.0),  # 1.8, 0.7, 0.09, 307
    "pitch_rate": (1.7, 1.4, 0.22, 460.0),  # 1.5, 1.2, 0.18, 431
    "yaw_rate": (1.9, 0.7, 0.07, 280.0),  # 1.7, 0.5, 0.05, 262
    "specific_force_y": (1.6, 0.6, 0.07, 400.0),  # 1.4, 0.4, 0.05, 370
    "specific_force_x": (1.6, 0.6, 0.07, 400.0),  # 1.4, 0.4, 0.05, 368
}


def without(driven: Driven, channel: str) -> Driven:
    """The same run with a channel held, and said to be so."""
    if not channel:
        return driven
    held, valid = driven.signals[channel].copy(), np.ones_like(driven.signals[channel])
    held[:, SINCE:], valid[:, SINCE:] = held[:, SINCE - 1 : SINCE], 0.0
    return replace(driven, signals={**driven.signals, channel: held, f"{channel}_valid": valid})


def worst(driven: Driven, now: Mapping[str, Array]) -> tuple[float, ...]:
    """The largest r.m.s. errors, after the loss."""
    truth = driven.truth
    errors = (
        (now["body_roll"] - truth["roll"]) / DEG,
        (now["body_pitch"] - truth["pitch"]) / DEG,
        now["corner_speed"] - true_speeds(driven),
        now["tyre_force"] - late(truth["wheel_load"], 0.016),
    )
    return tuple(max(float(np.sqrt((driven.cut(error, section)[:, SINCE:] ** 2).mean())) for section in SECTIONS) for error in errors)


@pytest.mark.validates("plant truth: a circle of half a g, rough road and hard braking, with one channel lost")
@pytest.mark.parametrize("channel", LIMITS)
def test_what_is_left(driven: Driven, channel: str) -> None:
    found = worst(driven, estimate(without(driven, channel), ["body_roll", "corner_speed", "tyre_force"]))
    assert all(error < limit for error, limit in zip(found, LIMITS[channel], strict=True)), found


@pytest.mark.validates("plant truth: the same; a channel that is held and believed does harm, which the test above would see")
def test_a_held_channel_that_is_believed_is_worse(driven: Driven) -> None:
    silent = without(driven, "roll_rate")
    believed = replace(silent, signals={name: array for name, array in silent.signals.items() if name != "roll_rate_valid"})
    found = worst(driven, estimate(believed, ["body_roll", "corner_speed", "tyre_force"]))
    assert found[0] > 1.8 * LIMITS["roll_rate"][0]


@pytest.mark.validates("plant truth: the moment of the loss itself, tick by tick")
@pytest.mark.parametrize("channel", ["roll_rate", "pitch_rate", "yaw_rate"])
def test_nothing_jumps_when_a_gyro_goes(driven: Driven, channel: str) -> None:
    wanted = ["body_roll", "corner_speed", "net_roll_rate", "net_pitch_rate"]
    before, after = estimate(driven, wanted), estimate(without(driven, channel), wanted)
    for name, step in (("body_roll", 0.2 * DEG), ("corner_speed", 0.07), ("net_roll_rate", 0.05), ("net_pitch_rate", 0.05)):
        apart = np.abs(after[name] - before[name])[:, SINCE : SINCE + int(0.01 / DT)]
        # measured: 0.03 deg, 0.055 m/s at a corner that a mound is just throwing up, 0.041 rad/s
        assert apart.max() < step, name

"""Shifts between channels, clocks that run apart, ride height, and wheels off scale, on demo drives."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from replay.health.alignment import alignment
from replay.health.finding import Finding
from replay.health.ride_height import ride_height
from replay.health.wheel_scale import wheel_scale
from replay.health.witnesses import witnesses
from tests.replay.health.hand_made_parts import HandMade, altered, demo_motion, of_kind, row

Array = NDArray[np.float64]


def weaving(seconds: float = 400.0, late: float = 0.0, ppm: float = 0.0) -> HandMade:
    """A vehicle that weaves; its wheel speeds hang on a clock of their own that is `late` [s] and runs fast by `ppm`."""
    random = np.random.default_rng(5)
    time = np.arange(0.0, seconds, 0.01)
    knots = np.arange(0.0, seconds + 2.0, 1.3)
    heights = random.normal(0.0, 0.3, len(knots))
    yaw = np.interp(time, knots, heights)
    bus = np.arange(0.0, seconds, 0.02)
    seen = np.interp(bus - 0.015, time, yaw)  # wheels tell it 15 ms late by nature
    wheels = 10.0 + np.array([-0.75, 0.75, -0.75, 0.75])[:, None] * seen
    wheels += random.normal(0.0, 0.03, wheels.shape)
    travel = 0.1 + random.normal(0.0, 1e-3, (4, len(time)))
    force = 9.81 + random.normal(0.0, 0.1, len(time))
    fast = {"yaw_rate": yaw + random.normal(0.0, 0.004, len(time)), "shaft_travel": travel, "specific_force_z": force}
    return HandMade((time, fast), (bus * (1.0 + 1e-6 * ppm) + late, {"wheel_speed": wheels}))


def told(made: HandMade) -> list[Finding]:
    motion = made.slow(5000)
    return alignment(motion, witnesses(motion))


def test_clocks_that_agree_are_not_told() -> None:
    assert told(weaving()) == []


@pytest.mark.parametrize("late", [-0.1, 0.06, 0.12])
def test_a_shift_is_told_with_its_size(late: float) -> None:
    (found,) = told(weaving(late=late))
    assert found.kind == "misalignment"
    assert found.channel == ("wheel speeds" if late > 0 else "yaw gyro")
    size = float(found.text.split(": ")[1].split(" ms")[0])
    assert size == pytest.approx(1e3 * abs(late), abs=8.0)  # bins of 40 ms, placed between them by a parabola
    assert 0.5 <= found.sure <= 0.99


@pytest.mark.parametrize("ppm", [-400.0, 250.0])
def test_a_clock_that_runs_away_is_told_with_its_rate(ppm: float) -> None:
    (found,) = told(weaving(ppm=ppm))
    assert found.kind == "clock drift"
    rate = float(found.text.split(" by ")[1].split(" ppm")[0])
    assert rate == pytest.approx(ppm, abs=40.0)  # 16 ms over the log: what the placing above leaves
    assert "group 1" in found.channel


def offsets(changes: dict[int, Array], static: Array | None) -> list[Finding]:
    motion = altered(demo_motion(), changes)
    return ride_height(motion, witnesses(motion), static)


STATIC = np.array([0.103, 0.103, 0.098, 0.098])  # of marram_2, the demo's own car


def test_a_sound_log_lies_at_ride_height() -> None:
    assert offsets({}, STATIC) == []
    assert offsets({}, None) == []


def test_an_offset_sensor_is_told_by_corner() -> None:
    travel = demo_motion().corners("shaft_travel")[1]
    (found,) = offsets({row("shaft_travel", 1): travel + 0.03}, STATIC)
    assert (found.kind, found.channel) == ("offset", "front-right travel")
    off = float(found.brief.split()[2])
    assert off == pytest.approx(30.0, abs=6.0)  # dampers and a slope move the mean by some millimetres
    assert "front_right: -" in found.mend


def test_without_a_vehicle_one_side_is_held_against_the_other() -> None:
    travel = demo_motion().corners("shaft_travel")[1]
    (found,) = offsets({row("shaft_travel", 1): travel + 0.03}, None)
    assert "on the other side" in found.text


def test_wheel_speeds_off_scale_are_told() -> None:
    sound = demo_motion()
    assert wheel_scale(sound, witnesses(sound)) == []
    motion = altered(sound, {row("wheel_speed", 2): 1.06 * sound.corners("wheel_speed")[2]})
    (found,) = wheel_scale(motion, witnesses(motion))
    assert found.channel == "rear-left wheel speed"
    factor = float(found.text.split(": ")[1].split(" %")[0])
    assert factor == pytest.approx(6.0, abs=1.0)  # gains of the demo's sensors scatter by 0.5 %


def test_steering_that_contradicts_wheels_and_gyro_is_told() -> None:
    sound = demo_motion()
    assert witnesses(sound).contradiction == ""
    assert witnesses(altered(sound, {row("steer_angle"): -sound.one("steer_angle")})).contradiction == "steer angle"
    wheels = sound.corners("wheel_speed")
    swapped = altered(sound, {row("wheel_speed", corner): wheels[corner ^ 1] for corner in range(4)})
    assert witnesses(swapped).contradiction == "wheel speeds"


def test_nothing_is_told_of_a_kind_that_is_not_there() -> None:
    assert of_kind(told(weaving(seconds=30.0)), "clock drift") == []

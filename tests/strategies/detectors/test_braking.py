"""Braking: the pedal, deceleration that the wheels bear out, and landings that only look like it."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.units import STANDARD_GRAVITY
from strategies.detectors.braking import Braking
from tests.strategies.detectors.play import Array, during, intervals, play, times

G = STANDARD_GRAVITY
TIME = times(4.0)
CALM = {"airborne_likely": 0.0, "airborne": 0.0, "landing": 0.0}


def slowing(start: float, end: float, size: float) -> tuple[Array, Array]:
    """Felt force ahead and the speed of wheels that slow as the body does."""
    loss = during(TIME, start, end, size * G)
    return -loss, 15.0 - np.cumsum(loss) * 0.002


def test_the_pedal_opens_it_at_once_and_its_strength_does_not_wait_for_the_car() -> None:
    given = play(Braking(), brake=during(TIME, 1.0, 2.0, 0.4), wheel_speed=15.0)
    ((start, end),) = intervals(given["braking"])
    assert start == pytest.approx(1.0, abs=0.003)
    assert end == pytest.approx(2.15, abs=0.004)
    strength = given["braking"].strength
    assert strength is not None
    assert strength[0, 510, 0] == pytest.approx(0.5)


def test_deceleration_that_the_wheels_bear_out_opens_it_without_the_pedal() -> None:
    force, wheels = slowing(1.0, 2.0, 0.4)
    ((start, end),) = intervals(play(Braking(), specific_force_x=force, wheel_speed=wheels)["braking"])
    assert 1.12 <= start <= 1.35  # 120 ms of it, after the smoothing
    assert 2.0 <= end <= 2.4


@pytest.mark.parametrize("state", ["airborne_likely", "airborne", "landing"])
def test_a_hard_landing_is_no_braking(state: str) -> None:
    """The body is thrown back, and wheels that spun up in the air slow at once."""
    force, wheels = slowing(1.0, 1.4, 0.8)
    given = play(Braking(), specific_force_x=force, wheel_speed=wheels, **{state: during(TIME, 0.6, 1.45)})
    assert intervals(given["braking"]) == []
    assert intervals(play(Braking(), specific_force_x=force, wheel_speed=wheels)["braking"]) != []  # the same without the landing


def test_a_downhill_or_a_ledge_is_no_braking() -> None:
    downhill = play(Braking(), specific_force_x=-0.4 * G, wheel_speed=np.full(TIME.size, 10.0))
    assert intervals(downhill["braking"]) == []
    ledge, wheels = slowing(1.0, 1.08, 1.2)
    assert intervals(play(Braking(), specific_force_x=ledge, wheel_speed=wheels)["braking"]) == []


def test_with_accelerometer_or_travel_lost_the_pedal_remains() -> None:
    force, wheels = slowing(1.0, 2.0, 0.5)
    for lost in ("specific_force_x_valid", "specific_force_z_valid"):
        given = play(Braking(), specific_force_x=force, wheel_speed=wheels, brake=during(TIME, 3.0, 3.5, 0.2), **{lost: 0.0})
        assert [round(start, 2) for start, _ in intervals(given["braking"])] == [3.0]

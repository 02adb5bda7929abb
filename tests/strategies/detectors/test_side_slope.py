"""Side slope: a bank without a turn, and which corners are uphill."""

from __future__ import annotations

import numpy as np
import pytest

from strategies.detectors.side_slope import SideSlope
from tests.strategies.detectors.play import during, intervals, play, times

TIME = times(6.0)
BANK = during(TIME, 1.0, 4.0, np.radians(15.0))


@pytest.mark.parametrize(("side", "upper"), [(1.0, [0, 2]), (-1.0, [1, 3])])
def test_a_bank_and_its_upper_side(side: float, upper: list[int]) -> None:
    given = play(SideSlope(), ground_bank=side * BANK, vehicle_speed=4.0)
    ((start, end),) = intervals(given["side_slope"])
    assert 1.3 < start < 1.5
    assert 4.3 < end < 4.6
    assert [corner for corner in range(4) if intervals(given["side_slope_upper"], corner)] == upper


def test_a_bank_that_one_turns_on_is_a_berm() -> None:
    turning = play(SideSlope(), ground_bank=BANK, vehicle_speed=10.0, yaw_rate=during(TIME, 0.5, 4.5, 0.4))
    assert intervals(turning["side_slope"]) == []
    standing = play(SideSlope(), ground_bank=BANK, vehicle_speed=0.0, yaw_rate=0.4)  # a gyro's word at rest is nothing
    assert len(intervals(standing["side_slope"])) == 1


def test_a_rut_and_a_gentle_camber_are_none() -> None:
    rut = play(SideSlope(), ground_bank=during(TIME, 1.0, 1.3, np.radians(15.0)), vehicle_speed=4.0)
    camber = play(SideSlope(), ground_bank=np.full(TIME.size, np.radians(6.0)), vehicle_speed=4.0)
    assert intervals(rut["side_slope"]) == intervals(camber["side_slope"]) == []

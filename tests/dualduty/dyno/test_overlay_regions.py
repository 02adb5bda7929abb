"""Ranges outside a corridor: where they begin and end, which duties carry them, and what is too little to be one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dualduty.dyno.regions import Region, find_regions, say_share, say_speed

SPEEDS = np.array([0.1, 0.2, 0.5, 1.0, 2.0, 3.0])
DUTIES = np.array([0.0, 0.5, 1.0])


def found(by_speed: list[float], by_duty: tuple[float, float, float] = (1.0, 1.0, 1.0)) -> list[Region]:
    """Regions of a deviation in %, in a corridor of 10 %."""
    deviation: NDArray[np.float64] = 0.01 * np.array(by_speed)[:, None] * np.array(by_duty)
    return find_regions(SPEEDS, DUTIES, deviation, np.full(deviation.shape, 0.10))


def test_a_fault_that_fades_in_reaches_to_where_it_is_half_there() -> None:
    assert found([0, 0, 3, 7, 14, 14])[0].low_speed == 1.0


def test_a_damper_that_is_a_bit_off_everywhere_keeps_its_fault_where_it_is() -> None:
    """6 % below 1 m/s is inside the corridor and not like the 20 % above; it must not stretch the range."""
    assert found([-6, -6, -6, -20, -20, -20])[0].where == "from 1.0 to 3.0 m/s, at all duties"


def test_one_speed_just_outside_is_chance_and_far_outside_is_not() -> None:
    assert found([0, 0, 11, 0, 0, 0]) == []
    assert found([0, 0, 21, 0, 0, 0])[0].where == "at 0.5 m/s, at all duties"


def test_both_signs_are_told_from_low_to_high_speed() -> None:
    assert [region.signed for region in found([15, 15, 0, 0, -12, -12])] == ["+15 %", "-12 %"]


def test_one_duty_alone_needs_three_speeds() -> None:
    assert found([0, 0, 0, 0, 15, 15], (0.0, 0.0, 1.0)) == []
    assert found([0, 0, 0, 15, 15, 15], (0.0, 0.0, 1.0))[0].where == "from 1.0 to 3.0 m/s, only at 100 % duty"


def test_ends_that_differ_are_both_told() -> None:
    said = found([0, 0, 0, 20, 20, 20], (0.6, 1.0, 1.4))[0].where
    assert said == "from 1.0 to 3.0 m/s, at all duties (+12 % at the soft end, +28 % at the firm end)"


def test_what_is_not_looked_at_is_no_deviation() -> None:
    deviation = np.full((SPEEDS.size, DUTIES.size), 0.3)
    deviation[:, 1:] = np.nan
    deviation[:3] = np.nan
    regions = find_regions(SPEEDS, DUTIES, deviation, np.full(deviation.shape, 0.10))
    assert [(region.low_speed, region.size, region.high_duty) for region in regions] == [(1.0, 0.3, 0.0)]


def test_numbers_are_said_as_they_were_set() -> None:
    assert [say_speed(speed) for speed in (4.491, 0.05003, 1.25, 1.0, 0.1999)] == ["4.5", "0.05", "1.25", "1.0", "0.2"]
    assert [say_share(share) for share in (0.15, -0.004, 0.0)] == ["+15 %", "-0.4 %", "+0 %"]

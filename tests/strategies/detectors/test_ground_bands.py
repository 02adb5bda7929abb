"""Ground bands wait in the air, ignore a single blow, and say nothing at a crawl."""

from __future__ import annotations

import numpy as np
import pytest

from strategies.detectors.ground_bands import GroundBands
from tests.strategies.detectors.play import Array, during, intervals, play, times

TIME = times(8.0)
RANDOM = np.random.default_rng(2)
SHAKE: Array = 0.5 * np.sin(2 * np.pi * (5.0 * TIME + 0.3 * np.sin(9.0 * TIME)))  # m/s, in the middle band


def test_rough_after_most_of_a_second_and_gone_after_most_of_a_second() -> None:
    ((start, end),) = intervals(play(GroundBands(), shaft_speed=SHAKE * during(TIME, 2.0, 5.0), vehicle_speed=10.0)["rough_ground"])
    assert 2.4 < start < 2.9
    assert 5.3 < end < 5.9


def test_a_blow_is_not_rough_ground_and_smooth_ground_stays() -> None:
    blow = 3.0 * np.sin(2 * np.pi * 5.0 * TIME) * during(TIME, 4.0, 4.2)
    given = play(GroundBands(), shaft_speed=blow, vehicle_speed=10.0)
    assert intervals(given["rough_ground"]) == []
    assert intervals(given["smooth_ground"])[0][1] > 4.3  # the trace of a blow is short


@pytest.mark.parametrize("state", ["airborne_likely", "airborne", "landing"])
def test_measures_wait_in_flight_and_just_after(state: str) -> None:
    falling = SHAKE * during(TIME, 4.0, 5.2)
    given = play(GroundBands(), shaft_speed=falling, vehicle_speed=10.0, **{state: during(TIME, 3.9, 5.6)})
    assert intervals(given["rough_ground"]) == []
    (smooth,) = intervals(given["smooth_ground"])
    assert smooth[1] == 8.0  # what was known before is kept
    assert intervals(play(GroundBands(), shaft_speed=falling, vehicle_speed=10.0)["rough_ground"]) != []


def test_at_a_crawl_nothing_is_said() -> None:
    given = play(GroundBands(), shaft_speed=SHAKE, vehicle_speed=1.0)
    assert intervals(given["rough_ground"]) == intervals(given["smooth_ground"]) == []


def test_a_washboard_is_not_rough_ground_nor_smooth() -> None:
    given = play(GroundBands(), shaft_speed=0.6 * np.sin(2 * np.pi * 14.0 * TIME), vehicle_speed=11.0)
    assert intervals(given["rough_ground"]) == []
    assert [end for _, end in intervals(given["smooth_ground"]) if end > 1.5] == []


def test_a_lost_front_sensor_is_stood_in_for_by_the_rear() -> None:
    shaken = np.stack([0.0 * SHAKE, SHAKE, SHAKE, SHAKE])
    valid = np.ones((4, TIME.size))
    valid[0] = 0.0
    both = play(GroundBands(), shaft_speed=np.stack([SHAKE] * 4), vehicle_speed=10.0)
    given = play(GroundBands(), shaft_speed=shaken, vehicle_speed=10.0, shaft_travel_valid=valid)
    assert intervals(given["rough_ground"]) == intervals(both["rough_ground"]) != []

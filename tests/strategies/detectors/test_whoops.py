"""Whoops: two cycles of large swings in rhythm with the rear against the front; not a dip, not a landing, not a slow roll."""

from __future__ import annotations

import numpy as np
import pytest

from strategies.detectors.whoops import Whoops
from tests.strategies.detectors.play import Array, during, intervals, play, times

TIME = times(8.0)
STROKE = 0.28


def swinging(hz: float, size: float, phase: float, start: float = 2.0, end: float = 6.0) -> Array:
    """Travels that swing by `size` of the stroke from end to end, the rear later by `phase`. [m]"""
    gate = during(TIME, start, end)
    front, rear = (0.5 * size * STROKE * gate * np.sin(2 * np.pi * hz * (TIME - start) - late) for late in (0.0, phase))
    return 0.12 + np.stack([front, front, rear, rear])


@pytest.mark.parametrize("hz", [1.0, 1.8, 2.8])
def test_two_cycles_open_it(hz: float) -> None:
    ((start, end),) = intervals(play(Whoops(), shaft_travel=swinging(hz, 0.6, np.pi), vehicle_speed=10.0)["whoops"])
    cycles = (start - 2.0) * hz
    assert 2.0 <= cycles <= 3.0
    assert 6.0 < end < 7.5


@pytest.mark.parametrize(
    ("hz", "size", "phase"),
    [
        (1.8, 0.6, 0.0),  # the whole car heaves
        (1.8, 0.2, np.pi),  # too small
        (0.4, 0.6, np.pi),  # a slow roll of the land
        (6.0, 0.6, np.pi),  # too fast
    ],
)
def test_what_whoops_are_not(hz: float, size: float, phase: float) -> None:
    assert intervals(play(Whoops(), shaft_travel=swinging(hz, size, phase), vehicle_speed=10.0)["whoops"]) == []


def test_one_landing_and_its_swing_back_are_none() -> None:
    after = np.clip(TIME - 3.0, 0.0, None)
    bounce = 0.14 * np.exp(-2.5 * after) * np.sin(2 * np.pi * 1.5 * after)
    travel = 0.1 + np.stack([bounce, bounce, -bounce, -bounce])
    assert intervals(play(Whoops(), shaft_travel=travel, vehicle_speed=10.0)["whoops"]) == []


def test_climbed_one_by_one_they_are_none_and_a_lost_sensor_is_done_without() -> None:
    travel = swinging(1.8, 0.6, np.pi)
    assert intervals(play(Whoops(), shaft_travel=travel, vehicle_speed=2.0)["whoops"]) == []
    valid = np.ones((4, TIME.size))
    valid[1] = 0.0
    lost = travel.copy()
    lost[1] = 0.0
    given = play(Whoops(), shaft_travel=lost, shaft_travel_valid=valid, vehicle_speed=10.0)
    assert intervals(given["whoops"]) == intervals(play(Whoops(), shaft_travel=travel, vehicle_speed=10.0)["whoops"])

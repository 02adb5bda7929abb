"""Cornering: what opens it, on which side, and what must not."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.units import STANDARD_GRAVITY
from strategies.detectors.cornering import Cornering
from tests.strategies.detectors.play import Array, during, intervals, play, times

G = STANDARD_GRAVITY
SPEED = 12.0
TIME = times(4.0)
LOCK = 0.4 * G * (2.4 + 0.002 * SPEED**2) / SPEED**2  # rad, the steady steer angle of 0.4 g


def turn(start: float = 1.0, end: float = 2.5, size: float = 0.4, rise: float = 0.15) -> Array:
    """Lateral acceleration that grows and falls evenly. [m/s²]"""
    return size * G * np.clip(np.minimum((TIME - start) / rise, (end - TIME) / rise), 0.0, 1.0)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_the_steering_wheel_announces_and_yaw_confirms_on_the_right_side(side: float) -> None:
    lead = 0.1  # s, what the car needs to answer
    steer = side * LOCK / (0.4 * G) * turn(1.0 - lead, 2.5 - lead)
    given = play(Cornering(), vehicle_speed=SPEED, yaw_rate=side * turn() / SPEED, steer_angle=steer)
    alone = play(Cornering(), vehicle_speed=SPEED, yaw_rate=side * turn() / SPEED)
    ((likely, _),) = intervals(given["cornering_likely"])
    ((sure, _),) = intervals(given["cornering"])
    ((late, _),) = intervals(alone["cornering"])
    reached = 1.0 + 0.15 * 0.25 / 0.4  # when 0.25 g is passed
    assert likely < reached < late
    assert likely <= sure <= late - 0.03
    assert intervals(alone["cornering_likely"]) == []
    outer = [1, 3] if side > 0 else [0, 2]
    for corner in range(4):
        active = "cornering_outer" if corner in outer else "cornering_inner"
        passive = "cornering_inner" if corner in outer else "cornering_outer"
        assert intervals(given[active], corner)[0][0] == likely
        assert intervals(given[passive], corner) == []


def test_a_side_slope_standing_or_creeping_is_no_corner_even_at_full_lock() -> None:
    leaning = G * np.sin(np.radians(20.0))
    for speed in (0.0, 1.0):
        given = play(Cornering(), specific_force_y=leaning, vehicle_speed=speed, steer_angle=during(TIME, 1.0, 3.0, 0.5), yaw_rate=0.02)
        assert all(intervals(state, corner) == [] for state in given.values() for corner in range(state.active.shape[0]))


def test_steering_against_a_slide_does_not_name_the_wrong_side() -> None:
    given = play(Cornering(), vehicle_speed=SPEED, yaw_rate=turn() / SPEED, steer_angle=-during(TIME, 1.3, 2.2, LOCK))
    assert intervals(given["cornering_likely"]) == []
    assert intervals(given["cornering_outer"], 0) == []  # the left side is inside


def test_a_change_of_side_closes_the_old_side_at_once() -> None:
    there = turn(0.5, 2.0) - turn(2.0, 3.5)
    given = play(Cornering(), vehicle_speed=SPEED, yaw_rate=there / SPEED, steer_angle=np.roll(there, -50) * LOCK / (0.4 * G))
    (_, left_over), (right_from, _) = intervals(given["cornering_outer"], 1)[0], intervals(given["cornering_outer"], 0)[0]
    assert left_over <= right_from + 0.02
    assert not (given["cornering_outer"].active[0] * given["cornering_outer"].active[1]).any()


def test_a_short_jerk_of_the_wheel_confirms_nothing() -> None:
    given = play(Cornering(), vehicle_speed=SPEED, steer_angle=during(TIME, 1.0, 1.2, 2.0 * LOCK), yaw_rate=turn(1.0, 1.25, 0.12) / SPEED)
    assert intervals(given["cornering_likely"]) != []
    assert intervals(given["cornering"]) == []


def test_without_the_steering_wheel_yaw_still_opens_it() -> None:
    given = play(Cornering(), vehicle_speed=SPEED, yaw_rate=turn() / SPEED, steer_angle=LOCK, steer_angle_valid=0.0)
    assert intervals(given["cornering_likely"]) == []
    assert len(intervals(given["cornering"])) == 1


def test_without_the_gyro_the_steering_wheel_opens_it_and_without_both_nothing_does() -> None:
    steer = LOCK / (0.4 * G) * turn()
    lost: dict[str, float | Array] = {"vehicle_speed": SPEED, "yaw_rate": -0.6, "yaw_rate_valid": 0.0, "steer_angle": steer}
    given = play(Cornering(), **lost)
    assert len(intervals(given["cornering"])) == 1
    assert intervals(given["cornering_outer"], 0) == []  # a turn to the left
    assert intervals(play(Cornering(), **lost, steer_angle_valid=0.0)["cornering"]) == []


def test_strength_grows_between_the_levels() -> None:
    given = play(Cornering(), vehicle_speed=SPEED, yaw_rate=turn(0.5, 3.9, 0.39) / SPEED)
    strength = given["cornering"].strength
    assert strength is not None
    assert strength[0, 1250, 0] == pytest.approx((0.39 - 0.18) / (0.6 - 0.18), abs=1e-3)  # settled after 1.8 s of a lag of 53 ms

"""Front and rear wheels of a side run on one line."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from dualduty.trace import Case
from plant.closed_loop import drive
from plant.constant_duty import ConstantDuty
from plant.course import Course
from plant.terrain.random_road import RandomRoad
from plant.vehicle import Vehicle


@pytest.mark.validates(
    "geometry: the rear wheels stand on what the front wheels stood on a wheelbase earlier, left and right each on its own track"
)
def test_rear_wheels_follow_the_front_by_a_wheelbase(plain_vehicle: Callable[..., Vehicle], make_course: Callable[..., Course]) -> None:
    road = RandomRoad("B", length=60.0)
    course = make_course(2.5, 10.0, lambda distance: road.heights(distance - 4.0, np.random.default_rng(7)))
    vehicle = plain_vehicle(1500.0)
    truth = drive([course], [vehicle], ConstantDuty(1), (Case("road", "fixed", "fixed"),), np.zeros(1, int)).whole().truth
    distance, ground = truth["distance"][0, :, 0], truth["ground_height"][:, :, 0]
    at = course.ground.step * np.arange(len(course.ground.left))
    for side, track in ((0, course.ground.left), (1, course.ground.right)):
        # atol: rounding of the grid index
        np.testing.assert_allclose(ground[side], np.interp(distance, at, track), atol=1e-12)
        np.testing.assert_allclose(ground[2 + side], np.interp(distance - vehicle.car.wheelbase, at, track), atol=1e-12)
    assert np.ptp(ground, axis=1).min() > 0.005
    assert np.abs(ground[0] - ground[1]).max() > 0.003

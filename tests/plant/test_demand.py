"""What a course asks of the tyres sideways."""

from __future__ import annotations

import numpy as np
import pytest

from plant.course import Course, Ground
from plant.demand import check_grip, lateral_demand
from plant.driver import Corner, Recipe
from plant.manoeuvres import StepSteer

DISTANCE = 0.05 * np.arange(2001, dtype=np.float64)
LEVEL = np.zeros(len(DISTANCE))
CORNER = Corner(20.0, 20.0, 5.0, 30.0, 5.0, "left")


def course(recipe: Recipe, bank: float = 0.0) -> Course:
    """A corner on ground that leans to the left by `bank` [rad] all along."""
    half = 0.75 * np.tan(bank)
    return Course("bend", Ground(0.05, LEVEL - half, LEVEL + half), recipe.drive(DISTANCE), 5.0)


def test_level_ground_asks_for_the_lateral_acceleration() -> None:
    demand = lateral_demand(course(Recipe(10.0, corner=(CORNER,))))
    assert demand.max() == pytest.approx(100.0 / 20.0 / 9.80665)
    assert demand[:300].max() == 0.0


def test_a_bank_takes_its_share() -> None:
    asked = np.arctan(100.0 / 20.0 / 9.80665)
    demand = lateral_demand(course(Recipe(10.0, corner=(CORNER,)), bank=0.2))
    assert demand.max() == pytest.approx(np.tan(asked - 0.2))
    assert demand[0] == pytest.approx(-np.tan(0.2))  # straight across the slope the tyres hold the vehicle up


def test_more_than_the_tyres_hold_is_refused_with_place_and_speed() -> None:
    fast = Recipe(13.5, corner=(CORNER,))
    with pytest.raises(ValueError, match=r"asks for 0\.93 g sideways at 25\.0 m and 49 km/h; expected at most 0\.85"):
        check_grip(course(fast))
    check_grip(course(fast, bank=0.2))
    with pytest.raises(ValueError, match=r"asks for 1\.\d+ g sideways"):
        check_grip(course(Recipe(20.0, step_steer=(StepSteer(30.0, 40.0, 0.08, 0.15, "left"),))))

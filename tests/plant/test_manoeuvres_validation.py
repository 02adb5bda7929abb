"""Manoeuvres of the driver's recipe against closed forms of their paths."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from plant.driver import Recipe, SpeedPoint
from plant.manoeuvres import LaneChange, Slalom, StepSteer

Array = NDArray[np.float64]

STEP = 0.01
DISTANCE: Array = STEP * np.arange(20001, dtype=np.float64)


def driven(curvature: Array) -> tuple[Array, Array, Array]:
    """Heading, distance ahead and offset of a path, from its curvature integrated twice (trapezoids)."""

    def summed(rate: Array) -> Array:
        return np.concatenate(([0.0], np.cumsum(0.5 * STEP * (rate[1:] + rate[:-1]))))

    heading = summed(curvature)
    return heading, summed(np.cos(heading)), summed(np.sin(heading))


@pytest.mark.validates(
    "closed form: curvature integrated twice; lengths of ISO 3888-1 as three public codes have them, offset 3.5 m in two"
)
@pytest.mark.parametrize(("side", "sign"), [("left", 1.0), ("right", -1.0)])
def test_lane_change_is_in_every_lane_where_it_should_be(side: str, sign: float) -> None:
    change = LaneChange(10.0, side=side)
    assert change.first + change.over + change.beside + change.back + change.last == 125.0
    heading, ahead, offset = driven(change.curvature(DISTANCE))
    # abs: the curvature is taken from a line of points 1 cm apart and summed over 1 cm; measured 9e-5 m
    assert np.interp(10.0 + 15 + 30 + 12.5, ahead, offset) == pytest.approx(sign * 3.5, abs=3e-4)
    assert offset[-1] == pytest.approx(0.0, abs=3e-4)
    assert heading[-1] == pytest.approx(0.0, abs=1e-5)
    # closed form at the gates, which the path passes 5 m from the ends of changes of 40 and 35 m: 10 t³ - 15 t⁴ + 6 t⁵ at t = 1/8 and 1/7
    for gate, length, there in ((25.0, 40.0, 0.0), (55.0, 40.0, 3.5), (80.0, 35.0, 3.5), (105.0, 35.0, 0.0)):
        t = 5.0 / length
        away = 3.5 * (10 * t**3 - 15 * t**4 + 6 * t**5)
        assert abs(sign * np.interp(gate, ahead, offset) - there) == pytest.approx(away, abs=3e-4)
    assert change.end == pytest.approx(DISTANCE[np.flatnonzero(change.curvature(DISTANCE))[-1]], abs=0.1)


@pytest.mark.validates("closed form: the bend of 10 t³ - 15 t⁴ + 6 t⁵ peaks at 10/sqrt(3); for small slopes the curvature is the bend")
def test_lane_change_curvature_is_smooth_and_as_large_as_its_lengths_say() -> None:
    curvature = LaneChange(10.0, over=60.0, back=40.0, offset=1.0, side="left").curvature(DISTANCE)
    # rel: slopes reach 1.9/50, so the curvature is the bend to (1 + slope²)^1.5, 1.5e-3 at most where the bend is largest; measured 8e-4
    assert np.abs(curvature).max() == pytest.approx(10 / np.sqrt(3) / 50.0**2, rel=2e-3)
    # no jump: over 1 cm the curvature moves by 60/length³ · 1 cm at most, the third derivative at the ends
    assert np.abs(np.diff(curvature)).max() < 1.1 * 60.0 / 50.0**3 * STEP


@pytest.mark.validates("closed form: y = A cos(pi x/L) between cones, so the offset is A and the curvature A pi²/L² at each")
@pytest.mark.parametrize("count", [1, 4, 5])
def test_slalom_passes_each_cone_at_its_amplitude(count: int) -> None:
    slalom = Slalom(20.0, 18.0, 0.8, count, "left")
    heading, ahead, offset = driven(slalom.curvature(DISTANCE))
    cones = 20.0 + 18.0 * np.arange(1, count + 1)
    sides = (-1.0) ** np.arange(count)
    # abs: as for the lane change; measured 4e-5 m
    np.testing.assert_allclose(np.interp(cones, ahead, offset), 0.8 * sides, atol=2e-4)
    at_cones = np.interp(cones, ahead, slalom.curvature(DISTANCE))
    # rtol: second differences over 2 cm at the joint with the way in, whose third derivative differs; measured 1.2e-2 there
    np.testing.assert_allclose(at_cones, -0.8 * np.pi**2 / 18.0**2 * sides, rtol=2e-2)
    assert np.abs(slalom.curvature(DISTANCE)).max() < 1.005 * 0.8 * np.pi**2 / 18.0**2
    assert np.abs(offset).max() == pytest.approx(0.8, abs=2e-4)
    assert (offset[-1], heading[-1]) == pytest.approx((0.0, 0.0), abs=2e-4)


@pytest.mark.validates("ISO 7401, from memory: 10 to 90 % of the steer within 0.15 s; closed form: time = distance over speed")
@pytest.mark.parametrize("speed", [8.0, 80 / 3.6])
def test_step_steer_rises_in_its_time_whatever_the_speed(speed: float) -> None:
    drive = Recipe(speed, step_steer=(StepSteer(20.0, 60.0, 0.04, 0.15, "right"),)).drive(DISTANCE)
    share = drive.steer / -0.04
    rise = (np.interp(0.9, share[1900:2800], DISTANCE[1900:2800]) - np.interp(0.1, share[1900:2800], DISTANCE[1900:2800])) / speed
    assert rise == pytest.approx(0.15, rel=1e-6)  # straight between points of the grid: only rounding remains
    held = drive.hold > 0
    assert (DISTANCE[held][0], DISTANCE[held][-1]) == pytest.approx((20.0, 80.0), abs=1.5 * STEP)
    assert not drive.steer[~held].any()
    assert not drive.curvature.any()


@pytest.mark.validates("closed form: constant deceleration, v0² - v1² = 2·a·length")
def test_braking_distance_is_the_one_between_the_points() -> None:
    recipe = Recipe(20.0, speed=(SpeedPoint(30.0, 20.0), SpeedPoint(70.0, 8.0)))
    deceleration = (20.0**2 - 8.0**2) / (2 * 40.0)
    # closed form: 1.5 s to the point, then 12 m/s of braking; the grid of 4000 points holds the ends to half a cell
    assert recipe.distance_after(1.5 + 12.0 / deceleration) == pytest.approx(70.0, abs=5e-3)

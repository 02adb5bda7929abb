"""The driver's recipe on a distance grid."""

from __future__ import annotations

import numpy as np
import pytest

from plant.driver import BrakeZone, CoastZone, Corner, Recipe, SpeedPoint, ThrottleZone
from plant.manoeuvres import LaneChange, Slalom, StepSteer

DISTANCE = 0.05 * np.arange(2001, dtype=np.float64)


def at(values: np.ndarray, distance: float) -> float:
    return float(np.interp(distance, DISTANCE, values))


def test_wanted_acceleration_is_constant_between_points() -> None:
    drive = Recipe(10.0, speed=(SpeedPoint(20.0, 10.0), SpeedPoint(60.0, 4.0))).drive(DISTANCE)
    assert at(drive.speed, 5.0) == 10.0
    assert at(drive.speed, 90.0) == 4.0
    inside = (DISTANCE > 21) & (DISTANCE < 59)
    acceleration = np.gradient(0.5 * drive.speed**2, 0.05)[inside]
    # closed form: (v1² - v0²)/(2·length) = -1.05 m/s²; half v² is straight, so only rounding remains
    np.testing.assert_allclose(acceleration, (16.0 - 100.0) / 80.0, rtol=1e-9)


def test_distance_after_follows_from_the_speed() -> None:
    recipe = Recipe(10.0, speed=(SpeedPoint(20.0, 10.0), SpeedPoint(60.0, 4.0)))
    # closed form: 2 s to 20 m, 40 m at a mean of 7 m/s, then 4 m/s for 1 s. The grid of 4000 points holds the ends of the braking to
    # half a cell (22 mm) in distance; measured 3e-5 m
    assert recipe.distance_after(2.0 + 40.0 / 7.0 + 1.0) == pytest.approx(64.0, abs=1e-3)
    assert Recipe(12.0).distance_after(5.0) == pytest.approx(60.0, rel=1e-12)


@pytest.mark.parametrize(("side", "sign"), [("left", 1.0), ("right", -1.0)])
def test_corner_is_a_constant_radius_between_clothoids(side: str, sign: float) -> None:
    curvature = Recipe(10.0, corner=(Corner(20.0, 25.0, 10.0, 30.0, 5.0, side),)).drive(DISTANCE).curvature
    assert at(curvature, 20.0) == 0.0
    assert at(curvature, 25.0) == pytest.approx(sign * 0.02)
    assert at(curvature, 45.0) == pytest.approx(sign * 0.04)
    assert at(curvature, 65.0) == pytest.approx(0.0, abs=1e-12)
    # closed form: heading change = (arc + half of both clothoids)/radius; the grid holds all four corners of the trapezoid
    assert np.trapezoid(curvature, DISTANCE) == pytest.approx(sign * (30.0 + 7.5) / 25.0, rel=1e-9)


def test_pedals_have_ramps_and_the_stronger_wins() -> None:
    drive = Recipe(
        10.0,
        brake=(BrakeZone(30.0, 20.0, 0.4, 2.0), BrakeZone(40.0, 20.0, 0.6, 2.0)),
        throttle=(ThrottleZone(70.0, 10.0, 0.5, 1.0),),
    ).drive(DISTANCE)
    assert [at(drive.brake, x) for x in (29.9, 31.0, 35.0, 45.0, 59.0, 60.1)] == pytest.approx([0, 0.2, 0.4, 0.6, 0.3, 0])
    assert [at(drive.throttle, x) for x in (69.9, 70.5, 75.0, 80.1)] == pytest.approx([0, 0.25, 0.5, 0])
    assert drive.start_speed == 10.0
    assert {len(a) for a in (drive.speed, drive.curvature, drive.brake, drive.throttle)} == {len(DISTANCE)}


def test_contradictions_are_refused() -> None:
    with pytest.raises(ValueError, match="rising distances"):
        Recipe(10.0, speed=(SpeedPoint(20.0, 10.0), SpeedPoint(20.0, 4.0)))
    with pytest.raises(ValueError, match="no room for two ramps"):
        Recipe(10.0, brake=(BrakeZone(30.0, 3.0, 0.4, 2.0),))


def test_coasting_lets_the_speed_be_and_the_pedals_to_their_zones() -> None:
    drive = Recipe(10.0, brake=(BrakeZone(30.0, 20.0, 0.4, 2.0),), coast=(CoastZone(20.0, 20.0), CoastZone(35.0, 10.0))).drive(DISTANCE)
    assert [at(drive.coast, x) for x in (19.9, 20.0, 37.0, 45.0, 45.1)] == [0, 1, 1, 1, 0]
    assert at(drive.brake, 40.0) == pytest.approx(0.4)
    assert not Recipe(10.0).drive(DISTANCE).coast.any()


def test_manoeuvres_add_to_one_path_and_the_wheel_is_held_on_its_own_stretch() -> None:
    slalom, corner, step = (
        Slalom(5.0, 10.0, 0.5, 1, "left"),
        Corner(30.0, 25.0, 5.0, 5.0, 5.0, "left"),
        StepSteer(60.0, 20.0, 0.03, 0.15, "left"),
    )
    drive = Recipe(10.0, corner=(corner,), slalom=(slalom,), step_steer=(step,)).drive(DISTANCE)
    assert np.array_equal(drive.curvature, slalom.curvature(DISTANCE) + corner.curvature(DISTANCE))
    assert [at(drive.hold, x) for x in (59.9, 60.0, 80.0, 80.1)] == [0, 1, 1, 0]
    assert at(drive.steer, 70.0) == pytest.approx(0.03)
    assert not drive.curvature[DISTANCE > 50.0].any()


def test_one_thing_is_steered_at_a_time() -> None:
    first = Corner(20.0, 25.0, 5.0, 10.0, 5.0, "left")
    Recipe(10.0, corner=(first, Corner(40.0, 25.0, 5.0, 10.0, 5.0, "right")))  # one begins where the other ends
    with pytest.raises(ValueError, match=r"the Corner starts at 39 m; expected 40 m or later, where the Corner of 20 m ends"):
        Recipe(10.0, corner=(first, Corner(39.0, 25.0, 5.0, 10.0, 5.0, "right")))
    for other in ({"slalom": (Slalom(30.0, 10.0, 0.5, 2, "left"),)}, {"lane_change": (LaneChange(30.0, side="left"),)},
                  {"step_steer": (StepSteer(30.0, 20.0, 0.03, 0.15, "left"),)}):  # fmt: skip
        with pytest.raises(ValueError, match=r"starts at 30 m; expected 40 m or later"):
            Recipe(10.0, corner=(first,), **other)
    with pytest.raises(ValueError, match="reach of 13 m into the lanes; expected at most"):
        LaneChange(10.0, reach=13.0, side="left")

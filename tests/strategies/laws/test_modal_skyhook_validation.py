"""Modal skyhook: the wanted moments at least force, and the same as a corner skyhook where the cost is symmetric."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pytest

from dualduty.contract import Chunk
from dualduty.memory import Memory
from strategies.laws.modal_skyhook import ModalSkyhook
from strategies.laws.skyhook_two_way import SkyhookTwoWay
from tests.strategies.laws.full_car import SPEED, FullCar, corner_accelerations, four_tracks
from tests.strategies.laws.quarter_car import Array, Corner, Lines, passive_acceleration

DAMPING: Final = 1500.0
SPEEDS: Final = np.random.default_rng(2).normal(size=(3, 1, 6)) * np.array([0.4, 0.5, 0.3])[:, None, None]  # heave, roll, pitch
LEAST_FORCE: Final = "least-norm solution of G'f = W by numpy's pseudo-inverse; closed form"


def law_for(car: FullCar, damping: tuple[float, float, float], half_track: Any = None, ratio: float = 1.0) -> ModalSkyhook:
    """The law with a car's geometry."""
    heave, roll, pitch = damping
    track = car.half_track if half_track is None else half_track
    return ModalSkyhook(heave, roll, pitch, wheelbase=car.wheelbase, front_arm=car.front_arm, half_track=track, motion_ratio=ratio)


def like_corners(car: FullCar) -> tuple[float, float, float]:
    """Modal damping of four corner skyhooks: 4 c, c sum(y^2), c sum(x^2)."""
    return 4.0 * DAMPING, DAMPING * float((car.corners[:, 1] ** 2).sum()), DAMPING * float((car.corners[:, 2] ** 2).sum())


def forces(law: Any) -> Array:
    """Wanted shaft forces on the body (up positive) over `SPEEDS`, (corner, case)."""
    memory = Memory(0.002)
    memory.begin()
    names = ("heave_speed", "net_roll_rate", "net_pitch_rate")
    demand = law.run(Chunk(0.002, dict(zip(names, SPEEDS[:, None], strict=True))), memory)
    return np.asarray(demand.compression - demand.rebound)[:, 0]


@pytest.mark.validates(LEAST_FORCE)
@pytest.mark.parametrize("ratio", [1.0, 0.6])
def test_wanted_moments_come_about_with_the_least_forces(ratio: float) -> None:
    """Also where the centre of gravity is off the middle, lengthwise and sideways, and the tracks differ."""
    track = np.array([0.82, 0.78, 0.72, 0.69]).reshape(4, 1, 1)
    car = FullCar(front_arm=1.1)
    geometry = car.corners.copy()
    geometry[:, 1] = track.ravel() * np.array([1.0, -1.0, 1.0, -1.0])
    damping = (5000.0, 3000.0, 8000.0)
    wanted = -np.array(damping)[:, None] * SPEEDS[:, 0]
    # measured 6e-16 of the largest
    np.testing.assert_allclose(ratio * forces(law_for(car, damping, track, ratio)), np.linalg.pinv(geometry.T) @ wanted, atol=1e-8)


@pytest.mark.validates(LEAST_FORCE + ": rows (1, -1, -1, 1) are twist")
def test_roll_damping_makes_roll_moment_only_and_nothing_twists_the_car() -> None:
    car = FullCar()
    plain, rolled = forces(law_for(car, (5000.0, 0.0, 8000.0))), forces(law_for(car, (5000.0, 3000.0, 8000.0)))
    moments = car.corners.T @ (rolled - plain)
    np.testing.assert_allclose(moments[[0, 2]], 0.0, atol=1e-9)
    np.testing.assert_allclose(moments[1], -3000.0 * SPEEDS[1, 0], rtol=1e-9)
    np.testing.assert_allclose(np.array([1.0, -1.0, -1.0, 1.0]) @ rolled, 0.0, atol=1e-9)


@pytest.mark.validates("f = G (G'G)^-1 (c G'G q) = c G q: with the corners' own damping it is the corner skyhook; closed form")
def test_with_the_corners_own_damping_it_is_the_corner_skyhook() -> None:
    car = FullCar()
    np.testing.assert_allclose(forces(law_for(car, like_corners(car))), -DAMPING * car.corners @ SPEEDS[:, 0], rtol=1e-9)


@pytest.mark.validates("transfer function of the linear quarter car, four of which make a car over ground in phase; closed form")
def test_the_car_is_four_quarter_cars_over_ground_in_phase() -> None:
    lines, corner = Lines.iso(1024e-6, SPEED, seed=1), Corner(200.0, 35.0, 16e3, 110e3, 1500.0, 1500.0)
    ground = np.repeat(lines.ground(1, lead=4.0).height[::4, None, :], 4, axis=1)
    car = FullCar(soft=1500.0, firm=1500.0)
    measured = rms_at_corners(car, law_for(car, (0.0, 0.0, 0.0)), ground, settle=4000)
    # measured 0.43 %: forces held over 1 ms, and acceleration as a difference over it
    np.testing.assert_allclose(measured, lines.rms(passive_acceleration(corner, np.array([1500.0]))), rtol=0.01)


@pytest.mark.validates("own result: linear car of 7 degrees of freedom, ISO 8608 class D at 12 m/s, instantaneous valves; not published")
def test_modal_and_corner_skyhook_are_alike_on_a_symmetric_cost() -> None:
    """Centre of gravity 150 mm ahead of the middle, so that modes and corners don't ask for the same."""
    car = FullCar(front_arm=1.2)
    ground = four_tracks((1, 2, 3), 1024e-6, 8.0)
    laws: list[Any] = [
        SkyhookTwoWay(damping=DAMPING, dead_speed=0.0),
        law_for(car, like_corners(car)),
        law_for(car, (4000.0, 4500.0, 9000.0)),
    ]
    corner, alike, apart = (rms_at_corners(car, law, ground) for law in laws)
    assert np.abs(alike / corner - 1.0).max() < 0.01  # measured 0.0054
    assert np.abs(apart / corner - 1.0).max() < 0.05  # measured 0.039: less heave damping, more roll damping


def rms_at_corners(car: FullCar, law: Any, ground: Array, settle: int = 2000) -> Array:
    """R.m.s. of the body's vertical acceleration, all four corners together, by case."""
    return np.asarray(np.sqrt((corner_accelerations(car, law, ground)[settle:] ** 2).mean(axis=(0, 1))))

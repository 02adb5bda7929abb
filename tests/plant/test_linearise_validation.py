"""The linearised vehicle against closed forms, against python-control's own vehicle, and against the plant's motion in time."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import control
import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.damper_map import DamperMap
from plant.course import Course
from plant.equilibrium import rates_at, standing
from plant.free_run import release, run_through
from plant.linearise import OUTPUTS, ground_response, linearise
from plant.modes import modes
from plant.operating_point import steady_point
from plant.rows import LOAD, MOVING, TRAVEL
from plant.vehicle import Vehicle

Array = NDArray[np.float64]
MAKE = Callable[..., Vehicle]
MASS, ROLL, PITCH, UNSPRUNG, SPRING, TYRE, DAMPING = 1210.0, 390.0, 1920.0, 45.0, 18e3, 200e3, 1500.0
AHEAD, BEHIND, HALF = 1.13, 1.47, 0.74


def published(plain_vehicle: MAKE, **numbers: Any) -> Vehicle:
    """Shock and Vibration 2019, 5193593, table 4; damping ours. Roll centres at the centre of gravity: no coupling to sides."""
    return plain_vehicle(
        DAMPING, sprung_mass=MASS, unsprung_mass=UNSPRUNG, roll_inertia=ROLL, pitch_inertia=PITCH, half_track=HALF, front_arm=AHEAD,
        wheelbase=AHEAD + BEHIND, spring_rate=SPRING, tyre_rate=TYRE, cg_height=0.36, roll_centre=0.36, grip=0.0, drive_force=0.0,
        brake_force=0.0, **numbers,
    )  # fmt: skip


def full_car() -> control.StateSpace:
    """Seven degrees of freedom written out: M q'' + C q' + K q = K_t z, inputs four ground heights, outputs body acceleration, loads."""
    corners = np.array([[1.0, side, -arm] for arm, side in ((AHEAD, HALF), (AHEAD, -HALF), (-BEHIND, HALF), (-BEHIND, -HALF))])
    travel = np.hstack([-corners, np.eye(4)])  # compression of each strut over heave, roll, pitch, hubs
    mass = np.diag([MASS, ROLL, PITCH, *[UNSPRUNG] * 4])
    stiff = SPRING * travel.T @ travel + np.diag([0.0, 0.0, 0.0, *[TYRE] * 4])
    damp = DAMPING * travel.T @ travel
    inverse = np.linalg.inv(mass)
    a = np.block([[np.zeros((7, 7)), np.eye(7)], [-inverse @ stiff, -inverse @ damp]])
    b = np.vstack([np.zeros((10, 4)), np.eye(4) * TYRE / UNSPRUNG])
    c = np.vstack([a[7], np.hstack([np.zeros((4, 3)), -TYRE * np.eye(4), np.zeros((4, 7))])])
    return control.ss(a, b, c, np.vstack([np.zeros(4), TYRE * np.eye(4)]))


def rows_of() -> list[int]:
    return [OUTPUTS.index("body_acceleration_z"), *(OUTPUTS.index("wheel_load_front_left") + corner for corner in range(4))]


@pytest.mark.validates("seven-degree-of-freedom vehicle written out, python-control frequency response; Shock and Vibration 2019, 5193593")
@pytest.mark.parametrize("speed", [0.0, 12.0])
def test_frequency_response_of_the_full_car(plain_vehicle: MAKE, speed: float) -> None:
    linear = linearise(steady_point(published(plain_vehicle), speed))
    hertz = np.array([0.3, 1.1153, 1.2782, 1.5314, 3.0, 8.0, 11.08, 20.0])
    expected_all = np.asarray(full_car()(2j * np.pi * hertz))
    for wheels in ([1.0, 1.0, 1.0, 1.0], [1.0, -1.0, 1.0, -1.0], [0.0, 0.0, 0.0, 1.0]):
        measured = ground_response(linear, hertz, np.array(wheels), delayed=False)[rows_of()]
        expected = np.einsum("oih,i->oh", expected_all, wheels)
        # In motion slopes push at the wheels' centres: with the body's centre there too, nothing else differs.
        # rtol of the largest: measured 6.2e-11 (rounding in the differences); three times that
        assert np.abs(measured - expected).max() < 2e-10 * np.abs(expected).max()


@pytest.mark.validates(
    "python-control forced response of the seven-degree-of-freedom vehicle to random ground; Shock and Vibration 2019, 5193593"
)
def test_time_response_of_the_full_car(plain_vehicle: MAKE, make_course: Callable[..., Course]) -> None:
    speed, step = 10.0, 1e-3
    random = np.random.default_rng(4)
    waves = [(random.uniform(0.3, 4.0), random.uniform(0.0, 2 * np.pi), random.uniform(0.0, 2 * np.pi)) for _ in range(12)]

    def heights(distance: Array) -> tuple[Array, Array]:
        grown = np.clip(distance / 3.0, 0.0, 1.0) ** 2 * 2e-5
        return tuple(grown * sum(np.sin(k * distance + shift[side]) for k, *shift in waves) for side in range(2))  # type: ignore[return-value]

    course = make_course(3.0, speed, heights, speed * step)
    seen = run_through([published(plain_vehicle)], [course], 0.0, tick=step, step=step)
    distance = seen.truth["distance"][0, :, 0]
    ground = np.stack([np.interp(distance - behind, speed * step * np.arange(course.ground.left.size), track)
                       for behind in (0.0, AHEAD + BEHIND) for track in (course.ground.left, course.ground.right)])  # fmt: skip
    time = step * np.arange(distance.size)
    expected = control.forced_response(full_car(), time, ground).outputs
    load = seen.truth["wheel_load"][:, :, 0]
    measured = np.vstack([seen.truth["body_acceleration_z"][0, :, 0], load - load[:, :1]])
    # rtol of the largest: measured 2.5e-6 for the body, ground read between grid points; loads below 1e-5
    for one, other in zip(measured, np.asarray(expected), strict=True):
        error = np.abs(one - other).max() / np.abs(other).max()
        assert error < 1e-5


@pytest.mark.validates("law of nature: small motions of the plant are those of its linearisation, x(t) = exp(A t) x(0)")
def test_small_free_motion_is_the_linear_one(plain_vehicle: MAKE, make_course: Callable[..., Course]) -> None:
    vehicle = published(plain_vehicle).overlay(roll_centre=0.2, cg_height=0.5, tyre_damping=150.0, motion_ratio_rise=0.4)
    linear = linearise(steady_point(vehicle))
    start = np.zeros(len(linear.rows))
    start[:MOVING] = 1e-5 * np.array([1.0, -0.5, 0.7, 0.3, -0.4, 0.8, 0.1])
    state = standing(vehicle)
    state[:MOVING] += start[:MOVING]
    states, reports = release(vehicle, state, make_course(1.0, 0.0))
    time = 1e-3 * np.arange(len(states))
    expected = control.initial_response(linear.system, time, start).outputs
    for row, report in (("wheel_load_rear_right", LOAD + 3), ("shaft_travel_front_left", TRAVEL)):
        measured = reports[:, report] - steady_value(vehicle, report)
        wanted = np.asarray(expected)[OUTPUTS.index(row)]
        # rtol of the largest: measured 1e-5, the square of the motion; three times that
        error = np.abs(measured - wanted).max() / np.abs(wanted).max()
        assert error < 3e-5, row


def steady_value(vehicle: Vehicle, row: int) -> float:
    return float(rates_at(vehicle, standing(vehicle)[None])[1][0, row])


@pytest.mark.validates("modal analysis of the written-out vehicle: frequencies and damping ratios of numpy's eigenvalues")
def test_modes_by_name(plain_vehicle: MAKE) -> None:
    vehicle = published(plain_vehicle)
    found = {mode.name: mode for mode in modes(linearise(steady_point(vehicle)))}
    values = np.linalg.eigvals(full_car().A)
    swinging = values[values.imag > 0.0]
    for mode in found.values():
        value = 2 * np.pi * mode.natural_hz * (-mode.damping_ratio + 1j * np.sqrt(1.0 - mode.damping_ratio**2))
        # rtol: measured 3.6e-12 for the first; eight times that
        assert np.abs(swinging / value - 1.0).min() < 3e-11, mode.name
    # by hand: roll is a motion of its own, 2 c t² / (2 sqrt(k I)) with the tyres in series; heave and pitch are close by
    assert np.argmax(np.abs(found["roll"].shape)) == 1
    assert found["heave"].natural_hz < found["pitch"].natural_hz < found["front hop, together"].natural_hz


@pytest.mark.validates(
    "describing function: friction F at a speed amplitude A >> v0 counts as 4 F / (pi A); two straight sides as their mean"
)
def test_equivalent_rate(plain_vehicle: MAKE) -> None:
    two_sided = DamperMap(np.array([0.0, 20.0]), np.array([0.0, 1.0]), np.array([[0.0, 0.0], [20e3, 40e3]]))
    level = {"cg_height": 0.6, "roll_centre": 0.6}  # no lever by which rolling would move the wheels sideways
    vehicle = plain_vehicle(two_sided, friction=60.0, friction_speed=1e-3, tyre_damping=0.0, **level)
    duty = np.repeat([0.2, 0.8], 4)
    amplitude = 0.3
    linear = linearise(steady_point(vehicle, duty=duty), amplitude)
    hub = linear.rows.index(10)
    rate = -linear.system.A[hub, hub] * 36.0
    expected = 0.5 * (1200.0 + 1800.0) + 4.0 * 60.0 / (np.pi * amplitude)
    # rel: measured 1.0e-5, 64 points and the smoothing of 1 mm/s; three times that
    assert rate == pytest.approx(expected, rel=3e-5)


@pytest.mark.validates(
    "Maxwell's element: dampers in series with springs give the modes of the written-out vehicle with one more state a corner; numpy"
)
def test_modes_with_springs_in_series(plain_vehicle: MAKE) -> None:
    stiff = 2e5
    linear = linearise(steady_point(published(plain_vehicle, series_rate=stiff)))
    rigid = full_car()
    corners = np.array([[1.0, side, -arm] for arm, side in ((AHEAD, HALF), (AHEAD, -HALF), (-BEHIND, HALF), (-BEHIND, -HALF))])
    travel = np.hstack([-corners, np.eye(4)])
    mass = np.diag([MASS, ROLL, PITCH, *[UNSPRUNG] * 4])
    a = np.zeros((18, 18))
    a[:14, :14] = rigid.A
    a[7:14, 7:14] = 0.0
    a[7:14, 14:] = -np.linalg.inv(mass) @ travel.T  # forces pull together what moves apart
    a[14:, 7:14] = stiff * travel
    a[14:, 14:] = -stiff / DAMPING * np.eye(4)
    rows = [linear.rows.index(row) for row in (*range(2 * MOVING), *range(30, 34))]
    # atol of 130 /s: measured 1.6e-9
    np.testing.assert_allclose(
        np.sort_complex(np.linalg.eigvals(linear.system.A[np.ix_(rows, rows)])), np.sort_complex(np.linalg.eigvals(a)), atol=1e-8
    )
    assert len(modes(linear)) == 7

"""Four equal corners over in-phase ground are four quarter cars."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import control
import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.damper_map import DamperMap
from dualduty.trace import Case
from plant.closed_loop import drive
from plant.constant_duty import ConstantDuty
from plant.course import Course
from plant.vehicle import Vehicle

SPRUNG, UNSPRUNG, SPRING, TYRE, DAMPING = 240.0, 36.0, 16e3, 160e3, 980.0  # QC-1, a widely used corner
ROAD = 2e-5  # m; at 0.1 mm the vehicle, which nothing drives, slows enough to shift a resonance by 4e-5
WAVELENGTH = 2.0  # m, the wheelbase: front and rear wheels in phase, pure heave
SECONDS = 8.0  # the slowest transient, exp(-2 t), is below 1e-6 of itself when measuring starts

Array = NDArray[np.float64]


def corner_vehicle(plain_vehicle: Callable[..., Vehicle], damping: float | DamperMap, spring: float = SPRING) -> Vehicle:
    """Four such corners; slopes push at the wheels' centres: with the body's there too, they don't pitch it."""
    masses = {"sprung_mass": 4.0 * SPRUNG, "unsprung_mass": UNSPRUNG}
    coasting = {"cg_height": 0.36, "grip": 0.0, "drive_force": 0.0, "brake_force": 0.0}
    return plain_vehicle(damping, **masses, spring_rate=spring, tyre_rate=TYRE, **coasting)


def over_road(vehicles: list[Vehicle], make_course: Callable[..., Course], hertz: list[float]) -> tuple[Array, Array]:
    """First harmonics over road height, complex (case,): body acceleration [1/s²] and suspension extension [1]."""
    courses = [make_course(SECONDS, hz * WAVELENGTH, lambda s: ROAD * np.sin(2 * np.pi * s / WAVELENGTH), 0.002) for hz in hertz]
    cases = tuple(Case(f"{hz} Hz", "fixed", "fixed") for hz in hertz)
    truth = drive(courses, vehicles, ConstantDuty(len(cases)), cases, np.zeros(len(cases), int)).whole().truth
    settled = slice(int(0.75 * SECONDS * 1000), None)
    acceleration, extension = np.empty((2, len(cases)), complex)
    for case in range(len(cases)):
        phase = 2 * np.pi * truth["distance"][0, settled, case] / WAVELENGTH
        basis = np.stack([np.sin(phase), np.cos(phase), np.ones_like(phase)], axis=1)
        for out, signal in ((acceleration, truth["body_acceleration_z"][0]), (extension, -truth["true_travel"][0])):
            fitted = np.linalg.lstsq(basis, signal[settled, case], rcond=None)[0]
            out[case] = (fitted[0] + 1j * fitted[1]) / ROAD
    return acceleration, extension


def transfer_functions(damping: float, spring: float = SPRING) -> control.StateSpace:
    """Body acceleration and extension over road height; states body height and speed, wheel height and speed."""
    a = [
        [0.0, 1.0, 0.0, 0.0],
        [-spring / SPRUNG, -damping / SPRUNG, spring / SPRUNG, damping / SPRUNG],
        [0.0, 0.0, 0.0, 1.0],
        [spring / UNSPRUNG, damping / UNSPRUNG, -(spring + TYRE) / UNSPRUNG, -damping / UNSPRUNG],
    ]
    return control.ss(a, [[0.0], [0.0], [0.0], [TYRE / UNSPRUNG]], [a[1], [1.0, 0.0, -1.0, 0.0]], np.zeros((2, 1)))


@pytest.mark.validates("python-control frequency response of the linear quarter car; closed form")
def test_frequency_response(plain_vehicle: Callable[..., Vehicle], make_course: Callable[..., Course]) -> None:
    hertz = [1.0, 1.24, 2.0, 3.832, 6.0, 8.5, 11.1352, 14.0]
    acceleration, extension = over_road([corner_vehicle(plain_vehicle, DAMPING)] * len(hertz), make_course, hertz)
    expected = transfer_functions(DAMPING)(2j * np.pi * np.array(hertz))[:, 0]
    # Compared as complex numbers. Measured: 4.0e-5 at 1.24 Hz, what is left of the transient, and 4e-6 from 2 Hz up (the
    # ground is straight between its points, 1/1000 of a wave apart). The larger times 2.5.
    assert np.abs(acceleration / expected[0] - 1.0).max() < 1e-4
    assert np.abs(extension / expected[1] - 1.0).max() < 1e-4
    assert np.abs(acceleration / expected[0] - 1.0)[2:].max() < 1e-5


@pytest.mark.validates("Hedrick and Butsuen, Invariant properties of automotive suspensions, Proc. IMechE D 204 (1990)")
def test_invariant_points_hold_for_any_suspension(plain_vehicle: Callable[..., Vehicle], make_course: Callable[..., Course]) -> None:
    digressive = DamperMap(np.array([0.0, 0.02, 20.0]), np.array([0.0, 1.0]), np.array([[0.0, 0.0], [40.0, 60.0], [9000.0, 9900.0]]))
    dampers: list[tuple[Any, float]] = [(rate, SPRING) for rate in (500.0, DAMPING, 4000.0, digressive)]
    dampers += [(DAMPING, 9e3), (DAMPING, 30e3)]
    vehicles = [corner_vehicle(plain_vehicle, damping, spring) for damping, spring in dampers]
    hop, rattle = np.sqrt(TYRE / UNSPRUNG), np.sqrt(TYRE / (SPRUNG + UNSPRUNG))
    hertz = [hop / (2 * np.pi)] * len(vehicles) + [rattle / (2 * np.pi)] * len(vehicles)
    acceleration, extension = over_road(vehicles * 2, make_course, hertz)
    per_speed = np.abs(acceleration[: len(vehicles)]) / hop, np.abs(extension[len(vehicles) :]) / rattle
    # rtol: measured 5.8e-6, of which 3.3e-6 is ground drawn straight between its points; three times that
    np.testing.assert_allclose(per_speed[0], 10.0, rtol=2e-5)
    np.testing.assert_allclose(per_speed[1], 0.0477631, rtol=2e-5)

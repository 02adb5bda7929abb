"""A plain linear vehicle whose numbers a test chooses, and courses for it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from dualduty.car import Car
from dualduty.damper_map import DamperMap
from dualduty.units import STANDARD_GRAVITY
from plant.course import Course, Drive, Ground
from plant.vehicle import Vehicle

TRAVEL = 0.5  # m, far from either stop


def linear_map(soft: float, firm: float) -> DamperMap:
    """Damping rates [N·s/m] at duty 0 and 1, straight up to 20 m/s."""
    return DamperMap(np.array([0.0, 20.0]), np.array([0.0, 1.0]), np.array([[0.0, 0.0], [20.0 * soft, 20.0 * firm]]))


@pytest.fixture(scope="session")
def plain_vehicle() -> Callable[..., Vehicle]:
    """Motion ratio 1, no bars, no friction, no tyre damping, springs as long as need be."""

    def make(damping: float | DamperMap = 0.0, **numbers: Any) -> Vehicle:
        one = damping if isinstance(damping, DamperMap) else linear_map(damping, damping)
        base = Vehicle(car=Car("plain", one, one, one, one), rolling_resistance=0.0)
        return settled(base.overlay(**{**DEFAULTS, **numbers}))

    return make


DEFAULTS: dict[str, Any] = {
    "wheelbase": 2.0, "front_arm": 1.0, "half_track": 0.75, "motion_ratio": 1.0, "sprung_mass": 960.0, "roll_inertia": 400.0,
    "pitch_inertia": 900.0, "unsprung_mass": 36.0, "tyre_radius": 0.36, "static_travel": TRAVEL, "stroke": 2.0, "bump_contact": 1.9,
    "hard_stop": 1.95, "hang_travel": 0.1, "spring_rate": 16e3, "tyre_rate": 160e3, "motion_ratio_rise": 0.0, "bar_rate": 0.0,
    "droop_rate": 6e5, "bump_rate": 45e3, "friction": 0.0,
    "gas_force": 0.0, "gas_rate": 0.0, "tyre_damping": 0.0, "bump_doubling": 0.022, "bump_loss": 0.0, "compression_scale": 1.0,
    "rebound_scale": 1.0, "cg_height": 0.6, "roll_centre": 0.15, "spring_contact": 0.0, "extended_drop": 0.5, "static_wheel_load": 2700.0,
}  # fmt: skip


def settled(vehicle: Vehicle) -> Vehicle:
    """Springs placed so that the vehicle stands level at `static_travel`, its centre of gravity at `cg_height`."""
    car = vehicle.car
    share = np.array([car.rear_arm, car.rear_arm, car.front_arm, car.front_arm]) / (2.0 * car.wheelbase)
    strut = share * car.sprung_mass * STANDARD_GRAVITY / car.motion_ratio
    load = share * car.sprung_mass * STANDARD_GRAVITY + car.unsprung_mass * STANDARD_GRAVITY
    hub = car.tyre_radius - load / vehicle.tyre_rate
    return vehicle.overlay(
        spring_contact=car.static_travel - strut / vehicle.spring_rate,
        extended_drop=car.static_travel / car.motion_ratio - hub + vehicle.cg_height,
        static_wheel_load=load,
    )


@pytest.fixture(scope="session")
def make_course() -> Callable[..., Course]:
    """A course from heights over distance; the driver keeps the start speed on a straight line unless told otherwise."""

    def make(duration: float, speed: float, heights: Callable[..., Any] = np.zeros_like, step: float = 0.05, **wishes: Any) -> Course:
        distance = np.arange(0.0, speed * duration * 1.2 + 10.0, step)
        both = heights(distance)
        left, right = both if isinstance(both, tuple) else (both, both)
        drive = {"speed": speed, "curvature": 0.0, "brake": 0.0, "throttle": 0.0, **wishes}
        full = {name: np.broadcast_to(np.asarray(value, float), distance.shape).copy() for name, value in drive.items()}
        return Course("made", Ground(step, left, right), Drive(speed, **full), duration)

    return make

"""What the accelerometer feels on a slope and while braking."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from dualduty.trace import Case
from dualduty.units import STANDARD_GRAVITY
from plant.closed_loop import drive
from plant.constant_duty import ConstantDuty
from plant.course import Course
from plant.vehicle import Vehicle

CASES = (Case("slope", "fixed", "fixed"),)


@pytest.mark.validates("a tilted accelerometer at rest feels gravity across its axis, g times the roll angle; closed form")
def test_side_slope(plain_vehicle: Callable[..., Vehicle], make_course: Callable[..., Course]) -> None:
    course = make_course(0.1, 0.0, lambda s: (np.full_like(s, 0.06), np.zeros_like(s)))
    whole = drive([course], [plain_vehicle(900.0, roll_centre=0.6)], ConstantDuty(1), CASES, np.zeros(1, int)).whole()
    roll = whole.truth["roll"][0, 0, 0]
    assert roll == pytest.approx(0.06 / 1.5, rel=0.05)  # left side up: right side down, positive
    # With the wheels still straight and no slip angle, nothing holds the car: it starts to slide at g times the slope.
    sliding = -STANDARD_GRAVITY * 0.06 / 1.5
    assert whole.signals["specific_force_y"][0, 0, 0] - sliding == pytest.approx(STANDARD_GRAVITY * roll, rel=1e-9)


@pytest.mark.validates("specific force ahead is the acceleration less g times the nose-down angle; closed form")
def test_braking_dive(plain_vehicle: Callable[..., Vehicle], make_course: Callable[..., Course]) -> None:
    vehicle = plain_vehicle(3000.0, brake_force=5000.0, speed_gain=0.0)
    whole = drive([make_course(2.5, 20.0, brake=1.0)], [vehicle], ConstantDuty(1), CASES, np.zeros(1, int)).whole()
    speed, pitch = whole.truth["speed"][0, :, 0], whole.truth["pitch"][0, -2, 0]
    slowing = (speed[-202] - speed[-2]) / 0.2
    assert pitch > 0.01
    # rel: heave still moves by a thousandth of g
    turned = (-slowing - STANDARD_GRAVITY * pitch) / np.hypot(1.0, pitch)  # a turn doesn't lengthen what is felt
    assert whole.signals["specific_force_x"][0, -1, 0] == pytest.approx(turned, rel=1e-4)

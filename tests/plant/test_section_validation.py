"""The jump of the demo section against free flight."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from plant.section import read_section
from plant.terrain.kicker import Kicker

SECTIONS = Path(__file__).resolve().parents[2] / "calibrations" / "sections"


@pytest.mark.validates("closed form: free flight from the lip, h + v·slope·t - g·t²/2 = 0, g = 9.80665 m/s² (ISO 80000-3)")
def test_kicker_throws_for_over_half_a_second() -> None:
    section = read_section(SECTIONS / "kicker_jump.toml")
    course, kicker = section.build(), section.ground[0].piece
    assert isinstance(kicker, Kicker)
    distance = course.ground.step * np.arange(len(course.ground.left))
    lip = int(np.argmax(course.ground.left))
    slope = (course.ground.left[lip - 10] - course.ground.left[lip - 30]) / (20 * course.ground.step)
    climb = course.drive.speed[lip] * slope
    closed_form = (climb + np.sqrt(climb**2 + 2 * 9.80665 * kicker.lip_height)) / 9.80665
    time = (distance - distance[lip]) / course.drive.speed[lip]
    flight = kicker.lip_height + climb * time - 0.5 * 9.80665 * time**2
    ahead = (time > 0.1) & (flight <= course.ground.left)
    # abs: one grid step is 3.6 ms at 13.9 m/s, and the contact patch moves the lip by up to one step
    assert time[ahead][0] == pytest.approx(closed_form, abs=7e-3)
    # all four wheels are off for less: the rear axle leaves a wheelbase later (0.17 s) and the hanging wheels touch first
    assert 0.5 < closed_form < 0.6

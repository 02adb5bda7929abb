"""Accelerating: the throttle, acceleration that the wheels bear out, and an uphill that only looks like it."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.units import STANDARD_GRAVITY
from strategies.detectors.accelerating import Accelerating
from tests.strategies.detectors.play import during, intervals, play, times

G = STANDARD_GRAVITY
TIME = times(4.0)
GAIN = during(TIME, 1.0, 2.2, 0.3 * G)
WHEELS = 8.0 + np.cumsum(GAIN) * 0.002


def test_the_throttle_opens_it_but_not_a_blip_nor_keeping_the_speed() -> None:
    throttle = during(TIME, 1.0, 2.0, 0.9) + during(TIME, 3.0, 3.02, 0.9) + 0.05
    ((start, end),) = intervals(play(Accelerating(), throttle=throttle, wheel_speed=8.0)["accelerating"])
    assert start == pytest.approx(1.04, abs=0.004)
    assert end == pytest.approx(2.2, abs=0.004)
    assert intervals(play(Accelerating(), throttle=np.full(TIME.size, 0.3), wheel_speed=8.0)["accelerating"]) == []


def test_gain_of_speed_opens_it_where_the_wheels_show_it_on_the_ground() -> None:
    ((start, _),) = intervals(play(Accelerating(), specific_force_x=GAIN, wheel_speed=WHEELS)["accelerating"])
    assert 1.2 <= start <= 1.45
    uphill = play(Accelerating(), specific_force_x=np.full(TIME.size, 0.35 * G), wheel_speed=8.0)
    assert intervals(uphill["accelerating"]) == []
    bounced = play(Accelerating(), specific_force_x=GAIN, wheel_speed=WHEELS, landing=1.0)
    assert intervals(bounced["accelerating"]) == []

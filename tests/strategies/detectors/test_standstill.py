"""Standstill opens after a while of next to no speed, and closes as the car rolls."""

from __future__ import annotations

import numpy as np
import pytest

from strategies.detectors.standstill import Standstill
from tests.strategies.detectors.play import intervals, play, times

TIME = times(6.0)


def test_a_stop_and_a_start() -> None:
    speed = np.clip(np.maximum(2.0 - TIME, TIME - 4.0), 0.0, None)
    ((start, end),) = intervals(play(Standstill(), vehicle_speed=speed)["standstill"])
    assert start == pytest.approx(1.75 + 0.2, abs=0.004)  # 0.25 m/s, then its delay
    assert end == pytest.approx(4.5 + 0.02, abs=0.004)


def test_a_moment_at_the_turning_point_of_rocking_is_none() -> None:
    rocking = 1.5 * np.sin(2 * np.pi * 1.0 * TIME)
    assert intervals(play(Standstill(), vehicle_speed=rocking)["standstill"]) == []

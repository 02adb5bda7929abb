"""Walking pace with its hysteresis: a pace about the level does not make it flicker."""

from __future__ import annotations

import numpy as np
import pytest

from strategies.detectors.walking_pace import WalkingPace
from tests.strategies.detectors.play import intervals, play, times

TIME = times(6.0)


def test_slow_includes_standing_and_ends_above_the_upper_level() -> None:
    speed = np.clip(np.maximum(4.0 - 2.0 * TIME, 2.0 * TIME - 8.0), 0.0, None)
    ((start, end),) = intervals(play(WalkingPace(), vehicle_speed=speed)["walking_pace"])
    assert start == pytest.approx(1.0 + 0.1, abs=0.004)
    assert end == pytest.approx(5.4 + 0.1, abs=0.004)


def test_a_pace_about_the_level_opens_it_once() -> None:
    wavering = 2.1 + 0.4 * np.sin(2 * np.pi * 0.8 * TIME)
    assert len(intervals(play(WalkingPace(), vehicle_speed=wavering)["walking_pace"])) == 1

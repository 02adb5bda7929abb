"""PitchFeedForward: the forces it asks make the share of the pitch moment that it says."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from strategies.laws.pitch_feed_forward import PitchFeedForward

RATIO = np.array([0.62, 0.62, 0.64, 0.64])


@pytest.mark.validates("statics: axle force couple x wheelbase = mass x arm x deceleration; braked, the front is pushed up")
@pytest.mark.parametrize(("brake", "throttle", "slowing"), [(1.0, 0.0, 7.0), (0.3, 0.0, 2.1), (0.0, 0.5, -2.0)])
def test_moment_of_the_forces(ran: Callable[..., Any], brake: float, throttle: float, slowing: float) -> None:
    ratio: Any = RATIO.reshape(4, 1, 1)
    law = PitchFeedForward(
        held=0.6, full_brake=7.0, full_throttle=4.0, springs_hz=0.05, sprung_mass=800.0, pitch_arm=0.5, wheelbase=2.4,
        motion_ratio=ratio,
    )  # fmt: skip
    values = {"vehicle_speed": 12.0, "brake": np.array([0.0, brake]), "throttle": np.array([0.0, throttle])}
    force = ran(law, values, 2)
    up = (force["compression"] - force["rebound"])[:, 1] * RATIO
    assert up.sum() == pytest.approx(0.0, abs=1e-9)  # a couple: no heave
    left = np.exp(-2 * np.pi * 0.05 * 0.002)  # what the springs have not yet taken over after one tick
    assert (up[0] + up[1]) * 2.4 == pytest.approx(0.6 * 800.0 * 0.5 * slowing * left, rel=1e-12)  # rounding

"""Lateral acceleration from yaw rate and speed, against plain kinematics and the plant."""

from __future__ import annotations

import numpy as np
import pytest

from tests.strategies.estimators.lane import Driven, estimate, plug_in, run, spread


@pytest.mark.validates("closed form: v^2 / r; 10 m/s round 25 m to the left is +4 m/s²")
def test_a_circle() -> None:
    found = run(plug_in("LateralAcceleration"), spread(500, yaw_rate=0.4, vehicle_speed=10.0))["lateral_acceleration"]
    assert found[0, -1, 0] == pytest.approx(4.0)


@pytest.mark.validates("plant truth: a 20 degree berm; the accelerometer's own axis shows what the bank leaves")
def test_a_berm_does_not_fool_it(driven: Driven) -> None:
    now = estimate(driven, ["lateral_acceleration"])
    held = slice(1250, 2100)
    true = (driven.cut(driven.truth["speed"], "berm_20_deg") * driven.cut(driven.signals["yaw_rate"], "berm_20_deg"))[0, held].mean()
    told = driven.cut(now["lateral_acceleration"], "berm_20_deg")[0, held].mean()
    felt = driven.cut(now["specific_force_y"], "berm_20_deg")[0, held].mean()
    assert told == pytest.approx(true, rel=0.02)  # measured 0.6 %
    assert felt < 0.6 * true  # measured 0.42 of it
    assert np.abs(driven.cut(now["lateral_acceleration"], "smooth_track")).max() < 0.6  # measured 0.25 m/s²

"""Lateral acceleration from yaw rate and speed, against plain kinematics and the plant."""

from __future__ import annotations

import numpy as np
import pytest

from tests.strategies.estimators.lane import Driven, estimate, plug_in, run, spread


@pytest.mark.validates("closed form: v^2 / r; 10 m/s round 25 m to the left is +4 m/s²")
def test_a_circle() -> None:
    found = run(plug_in("LateralAcceleration"), spread(500, yaw_rate=0.4, vehicle_speed=10.0, steer_angle=0.0))["lateral_acceleration"]
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


@pytest.mark.validates(
    "kinematics: a bicycle that slips alike at both ends turns with steer over wheelbase; a slip difference adds to the steer"
)
@pytest.mark.parametrize(("understeer", "steer"), [(0.0, 2.4 / 25.0), (0.005, 2.4 / 25.0 + 0.005 * 4.0)])
def test_without_yaw_gyro_steering_tells(understeer: float, steer: float) -> None:
    made = plug_in("LateralAcceleration", wheelbase=2.4, understeer=understeer)
    given = spread(500, yaw_rate=-3.0, yaw_rate_valid=0.0, vehicle_speed=10.0, steer_angle=steer)
    assert run(made, given)["lateral_acceleration"][0, -1, 0] == pytest.approx(4.0)


@pytest.mark.validates("plant truth: yaw rate times speed in a steady circle of half a g")
def test_without_yaw_gyro_on_the_circle(driven: Driven) -> None:
    now = estimate(driven, ["lateral_acceleration"])
    blind = {**now, "yaw_rate_valid": np.zeros_like(now["yaw_rate"])}
    told = driven.cut(run(plug_in("LateralAcceleration", driven.car), blind)["lateral_acceleration"], "constant_radius")[
        0, 2000:3000
    ].mean()
    true = driven.cut(now["lateral_acceleration"], "constant_radius")[0, 2000:3000].mean()
    assert told == pytest.approx(true, rel=0.1)

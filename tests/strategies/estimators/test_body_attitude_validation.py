"""Angles of the body against the horizon: standing askew, driving round, and the plant's truth."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.units import STANDARD_GRAVITY
from tests.strategies.estimators.lane import DT, Driven, estimate, plug_in, run, shown_rows, spread, states

Array = NDArray[np.float64]
DEG = np.pi / 180


def attitude(ticks: int, air: float = 0.0, **values: Any) -> dict[str, Array]:
    """Angles; what isn't given is at rest and level."""
    rest = {"specific_force_x": 0.0, "specific_force_y": 0.0, "specific_force_z": STANDARD_GRAVITY}
    rest |= dict.fromkeys(
        ("roll_rate", "pitch_rate", "yaw_rate", "net_roll_rate", "net_pitch_rate", "vehicle_speed", "lateral_acceleration"), 0.0
    )
    given = spread(ticks, **{**rest, **values})
    return run(plug_in("BodyAttitude"), {**given, **states(ticks, airborne_likely=air, airborne=air)})


@pytest.mark.validates(
    "closed form: a body at rest feels g along the vertical; its axes see -g sin(pitch), g sin(roll) cos(pitch), g cos cos"
)
@pytest.mark.parametrize(("roll", "pitch"), [(15.0, 0.0), (-15.0, 0.0), (0.0, 12.0), (8.0, -8.0)])
def test_standing_askew(roll: float, pitch: float) -> None:
    r, p = roll * DEG, pitch * DEG
    felt = {
        "specific_force_x": -STANDARD_GRAVITY * np.sin(p),
        "specific_force_y": STANDARD_GRAVITY * np.sin(r) * np.cos(p),
        "specific_force_z": STANDARD_GRAVITY * np.cos(r) * np.cos(p),
    }
    found = attitude(20_000, **felt)
    # abs: small angles; the fixed point of sin(a) sqrt(1 + a^2) = a is 0.35 deg off at 15 deg
    assert found["body_roll"][0, -1, 0] / DEG == pytest.approx(roll, abs=0.4)
    assert found["body_pitch"][0, -1, 0] / DEG == pytest.approx(pitch, abs=0.4)


@pytest.mark.validates("closed form: driving a circle on the level for 10 s, nothing leans, though the accelerometer shows v^2 / r")
def test_a_level_circle_is_no_bank() -> None:
    found = attitude(5000, specific_force_y=4.0, yaw_rate=0.4, vehicle_speed=10.0)
    assert np.abs(found["body_roll"]).max() < 1e-9
    blind = attitude(5000, specific_force_y=4.0)
    assert blind["body_roll"][0, -1, 0] > 0.3  # planted: without speed it is taken for a bank


@pytest.mark.validates(
    "kinematics: an axis that stands still in space while the body yaws under it; roll' = pitch yaw', pitch' = -roll yaw'"
)
def test_on_a_side_slope_turning_round_swaps_roll_for_pitch() -> None:
    ticks, turn, lean = 1500, 0.5, 10 * DEG
    angle = turn * DT * np.arange(ticks)
    # gyros of a body on a plane see none of it but along their own axes: p = 0, q = 0
    felt = {"specific_force_x": STANDARD_GRAVITY * lean * np.sin(angle), "specific_force_y": STANDARD_GRAVITY * lean * np.cos(angle)}
    found = attitude(ticks, air=0.0, yaw_rate=turn, **felt)
    assert found["body_roll"][0, -1, 0] == pytest.approx(lean * np.cos(angle[-1]), abs=0.3 * DEG)
    assert found["body_pitch"][0, -1, 0] == pytest.approx(-lean * np.sin(angle[-1]), abs=0.3 * DEG)


@pytest.mark.validates("law of nature: in free flight specific force says nothing of the vertical; angles are the integral of the rates")
def test_in_the_air_the_rates_alone_count() -> None:
    found = attitude(400, air=1.0, specific_force_z=0.3, specific_force_y=2.0, pitch_rate=0.5)
    assert found["body_pitch"][0, -1, 0] == pytest.approx(0.5 * 400 * DT, rel=1e-9)
    assert np.abs(found["body_roll"]).max() < 1e-9


@pytest.mark.validates("closed form: with the yaw gyro lost, lateral acceleration over speed is the yaw rate; a level circle stays level")
def test_without_yaw_gyro() -> None:
    found = attitude(5000, specific_force_y=4.0, yaw_rate_valid=0.0, lateral_acceleration=4.0, vehicle_speed=10.0)
    assert np.abs(found["body_roll"]).max() < 1e-9


@pytest.mark.parametrize("channel", ["specific_force_x", "specific_force_y"])
@pytest.mark.validates("closed form: without one of the horizontal forces, angles are the integral of the rates alone")
def test_without_a_horizontal_force(channel: str) -> None:
    found = attitude(400, **{channel: 3.0, f"{channel}_valid": 0.0}, roll_rate=0.1)
    assert found["body_roll"][0, -1, 0] == pytest.approx(0.1 * 400 * DT, rel=1e-9)
    assert np.abs(found["body_pitch"]).max() < 1e-9


@pytest.mark.validates("closed form: a gyro offset of 0.3 deg/s, learnt over a minute, leaves a tenth of the lean it makes at first")
def test_a_gyro_offset_is_learnt() -> None:
    lean = attitude(75_000, roll_rate=0.3 * DEG)["body_roll"][0, :, 0] / DEG
    assert lean.max() == pytest.approx(0.3 / (2 * np.pi * 0.06), rel=0.2)  # offset over corner rate: 0.8 deg
    assert abs(lean[-1]) < 0.1 * lean.max()


@pytest.mark.validates("plant truth: roll and pitch of a lane; usual sensors, whose offset of 0.1 m/s² alone makes 0.6 deg")
def test_on_the_lane(driven: Driven) -> None:
    now = estimate(driven, ["body_roll"])
    shown = shown_rows(driven.names)
    for section in driven.names:
        roll, pitch = (driven.rms(now[f"body_{name}"] - driven.truth[name], section) / DEG for name in ("roll", "pitch"))
        assert (roll, pitch) == pytest.approx(shown[section][2:4], abs=0.03)
        assert max(roll, pitch) < 1.7  # measured 1.56 with the worst offset drawn, 2.6 of its standard deviations


@pytest.mark.validates("plant truth: a 20 degree berm, held for 3 s: 0.6 g of cornering don't pull the angle away")
def test_the_berm_is_seen(driven: Driven) -> None:
    now = estimate(driven, ["ground_bank"])
    held = slice(1250, 2100)
    true, told = (driven.cut(array, "berm_20_deg")[0, held].mean() / DEG for array in (driven.truth["roll"], now["body_roll"]))
    assert true < -18.0
    assert told == pytest.approx(true, abs=0.7)  # measured 0.33 deg, of the offset of the sensor
    # tan 20 deg: angles of the plant are slopes; measured 0.6 deg less
    assert driven.cut(now["ground_bank"], "berm_20_deg")[0, held].mean() / DEG == pytest.approx(-20.9, abs=0.9)
    assert np.abs(driven.cut(now["ground_bank"], "constant_radius")).max() / DEG < 1.2  # measured 0.7: tyres, sensor offset

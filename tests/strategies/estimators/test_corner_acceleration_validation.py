"""Vertical acceleration at the corners: the full rotation, a rigid body's kinematics, and the plant's truth."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.units import STANDARD_GRAVITY
from tests.strategies.estimators.lane import DT, Driven, estimate, late, plug_in, run, shown_rows, spread

Array = NDArray[np.float64]
DEG = np.pi / 180
ARM, SIDE = [1.3, 1.3, -1.1, -1.1], [0.75, -0.75, 0.7, -0.7]


def accelerations(ticks: int = 1, /, **values: Any) -> Array:
    """Corner accelerations over (4, time); what isn't given is at rest and level."""
    rest: dict[str, Any] = dict.fromkeys(
        ("specific_force_x", "specific_force_y", "body_roll", "body_pitch", "net_roll_rate", "net_pitch_rate"), 0.0
    )
    made = plug_in("CornerAcceleration", corner_x=ARM, corner_y=SIDE)
    found = run(
        made,
        spread(
            ticks,
            **{
                **rest,
                "lateral_acceleration": 0.0,
                "roll_rate_valid": 1.0,
                "pitch_rate_valid": 1.0,
                "specific_force_z": STANDARD_GRAVITY,
                **values,
            },
        ),
    )
    return found["corner_acceleration"][:, :, 0]  # type: ignore[no-any-return]


def true_accelerations(driven: Driven) -> Array:
    """Of the plant, at the corners."""
    arm, side = driven.car.arm.reshape(4, 1, 1), driven.car.side.reshape(4, 1, 1)
    turning = [np.gradient(np.gradient(driven.truth[name], DT, axis=1), DT, axis=1) for name in ("roll", "pitch")]
    return np.asarray(driven.truth["body_acceleration_z"] + side * turning[0] - arm * turning[1])


@pytest.mark.validates("closed form: the full rotation of the body's axes by roll; a berm of 20 degrees at 0.6 g holds the body level")
@pytest.mark.parametrize("angle", [-20.0, -12.0, 12.0, 20.0])
def test_a_banked_corner_lifts_nothing(angle: float) -> None:
    roll, left, up = angle * DEG, 0.6 * STANDARD_GRAVITY, STANDARD_GRAVITY
    felt = {"specific_force_y": left * np.cos(roll) + up * np.sin(roll), "specific_force_z": up * np.cos(roll) - left * np.sin(roll)}
    found = accelerations(body_roll=roll, **felt)
    # abs: small angles, (a cos a - sin a) of what is felt sideways; 0.08 m/s² at 20 degrees
    assert found == pytest.approx(0.0, abs=0.09)
    if angle < 0.0:
        assert felt["specific_force_z"] - STANDARD_GRAVITY > 1.0  # what the axis alone shows: 1.01 m/s² at 12, 1.42 at 20 degrees


@pytest.mark.validates("closed form: a body at rest, nose down by 15 degrees, doesn't accelerate")
def test_standing_nose_down() -> None:
    felt = {"specific_force_x": -STANDARD_GRAVITY * np.sin(15 * DEG), "specific_force_z": STANDARD_GRAVITY * np.cos(15 * DEG)}
    assert accelerations(body_pitch=15 * DEG, **felt) == pytest.approx(0.0, abs=0.01)  # measured 0.005


@pytest.mark.validates(
    "closed form: without the sideways channel, its steady value stands in; a berm of 20 degrees at 0.6 g still lifts nothing"
)
def test_a_banked_corner_without_the_sideways_force() -> None:
    roll, left = -20 * DEG, 0.6 * STANDARD_GRAVITY
    upright = STANDARD_GRAVITY * np.cos(roll) - left * np.sin(roll)
    lost = {"specific_force_y": 9.0, "specific_force_y_valid": 0.0, "lateral_acceleration": left}
    assert accelerations(body_roll=roll, specific_force_z=upright, **lost) == pytest.approx(0.0, abs=0.15)


@pytest.mark.validates("law of nature: in free flight everything falls at g")
def test_flight() -> None:
    assert accelerations(specific_force_z=0.0, body_pitch=0.2) == pytest.approx(-STANDARD_GRAVITY)


@pytest.mark.validates("kinematics of a rigid body, ISO 8855 small angles: z_i'' = z'' + y_i roll'' - x_i pitch''")
def test_a_turning_body() -> None:
    ticks = 200
    found = accelerations(ticks, net_roll_rate=2.0 * DT * np.arange(ticks), net_pitch_rate=-1.0 * DT * np.arange(ticks))
    assert found[:, -1] == pytest.approx(2.0 * np.array(SIDE) + np.array(ARM))


@pytest.mark.validates("plant truth: accelerations of a lane, 8 ms ago: filters of sensor, rates and their derivative")
def test_on_the_lane(driven: Driven) -> None:
    error = estimate(driven, ["corner_acceleration"])["corner_acceleration"] - late(true_accelerations(driven), 0.008)
    shown = shown_rows(driven.names)
    for section in driven.names:
        assert driven.rms(error, section) == pytest.approx(shown[section][4], abs=0.06)

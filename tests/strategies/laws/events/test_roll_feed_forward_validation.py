"""RollFeedForward: the forces it asks make the share of the roll moment that it says."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from strategies.laws.roll_feed_forward import RollFeedForward

HALF_TRACK = np.array([0.76, 0.76, 0.74, 0.74])
RATIO = np.array([0.62, 0.62, 0.64, 0.64])


@pytest.mark.validates("statics: shaft force x motion ratio x half track, summed over corners, is mass x arm x acceleration")
@pytest.mark.parametrize("lateral", [3.0, -5.5])
def test_moment_of_the_forces(ran: Callable[..., Any], lateral: float) -> None:
    half: Any = HALF_TRACK.reshape(4, 1, 1)
    ratio: Any = RATIO.reshape(4, 1, 1)
    law = RollFeedForward(
        held=0.4, steer_share=0.0, springs_hz=0.05, sprung_mass=800.0, roll_arm=0.5,
        half_track=half, motion_ratio=ratio,
    )  # fmt: skip
    values = {"vehicle_speed": 15.0, "steer_angle": 0.0, "lateral_acceleration": np.array([0.0, lateral])}
    force = ran(law, values, 2)
    up = (force["compression"] - force["rebound"])[:, 1] * RATIO  # wheel force on the body, up
    roll_moment = (up * HALF_TRACK * [1, -1, 1, -1]).sum()  # about x forward: a left turn rolls right, so this must push the right side up
    carried = 1.0 - np.exp(-2 * np.pi * 0.05 * 0.002)  # of the step, the springs have taken over this much within one tick
    assert roll_moment == pytest.approx(-0.4 * 800.0 * 0.5 * lateral * (1.0 - carried), rel=1e-12)  # rounding
    assert [up[0] + up[1], up[2] + up[3]] == pytest.approx([0.0, 0.0], abs=1e-9)  # a couple at each axle: no heave


@pytest.mark.validates("single-track model, steady turn: a = v² steer / (wheelbase + understeer v²) (textbook formula, from memory)")
def test_acceleration_said_by_the_steering(ran: Callable[..., Any]) -> None:
    law = RollFeedForward(steer_share=1.0, springs_hz=0.05, understeer=0.002, wheelbase=2.4, believed_steer=15.0)
    yaw = RollFeedForward(steer_share=0.0, springs_hz=0.05)
    steered = {"vehicle_speed": 12.0, "steer_angle": np.array([0.0, 0.05]), "lateral_acceleration": 0.0}
    turned = {"vehicle_speed": 12.0, "steer_angle": 0.0, "lateral_acceleration": np.array([0.0, 144.0 * 0.05 / (2.4 + 0.002 * 144.0)])}
    np.testing.assert_allclose(ran(law, steered, 2)["compression"], ran(yaw, turned, 2)["compression"], rtol=1e-12)  # rounding

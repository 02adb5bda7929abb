"""Hub speed: a wheel that follows the ground while the body stands, and the plant's truth."""

from __future__ import annotations

import numpy as np
import pytest

from tests.strategies.estimators.lane import DT, Driven, estimate, late, plug_in, run, spread


@pytest.mark.validates("closed form: shaft speed is motion ratio times the speed of the wheel towards the body")
def test_a_wheel_under_a_body_that_moves() -> None:
    given = spread(1, shaft_speed=[0.3, 0.0, -0.6, 0.6], corner_speed=[0.0, 0.4, 0.0, -1.0])
    found = run(plug_in("HubSpeed", motion_ratio=[0.6] * 4), given)["hub_speed"][:, 0, 0]
    assert found == pytest.approx([0.5, 0.4, -1.0, 0.0])


@pytest.mark.validates("plant truth: corner speed and shaft speed of wheels that work fast under a body that stands, 6 ms ago")
@pytest.mark.parametrize(("section", "share"), [("corrugation", 0.15), ("iso_road", 0.3), ("braking_straight", 0.5)])
def test_on_the_lane(driven: Driven, section: str, share: float) -> None:
    now = estimate(driven, ["hub_speed"])
    arm, side, ratio = (row.reshape(4, 1, 1) for row in (driven.car.arm, driven.car.side, driven.car.motion_ratio))
    heave, roll, pitch = (np.gradient(driven.truth[name], DT, axis=1) for name in ("heave", "roll", "pitch"))
    true = heave + side * roll - arm * pitch + driven.truth["true_shaft_speed"] / ratio
    error = driven.rms(now["hub_speed"] - late(true, 0.006), section) / driven.rms(true, section)
    assert error < share

"""Vehicle speed against the plant's."""

from __future__ import annotations

import numpy as np
import pytest

from tests.strategies.estimators.lane import Driven, estimate


@pytest.mark.validates("plant truth: true forward speed of a simulated jump; driven wheels race in the air and swing on landing")
def test_a_jump_hardly_moves_it(driven: Driven) -> None:
    worst = {}
    for held in (1.0, 0.0):
        now = estimate(driven, ["vehicle_speed"], VehicleSpeed={"hold_in_air": held})
        worst[held] = np.abs(driven.cut(now["vehicle_speed"] - driven.truth["speed"], "kicker_jump")).max()
    assert worst[1.0] < 0.6  # measured 0.41 m/s, of that 0.2 the lag of the smoothing at lift-off
    assert worst[0.0] > 1.7  # measured 1.94


@pytest.mark.validates("plant truth: true forward speed in a steady circle, where inner and outer wheels differ by 0.6 m/s")
def test_a_circle_does_not_slow_it(driven: Driven) -> None:
    now = estimate(driven, ["vehicle_speed"])
    assert (
        driven.rms(now["vehicle_speed"] - driven.truth["speed"], "constant_radius") < 0.06
    )  # measured 0.037 m/s; 0.166 with turning left in

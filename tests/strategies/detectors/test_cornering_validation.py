"""The steering wheel's announcement against the steady turn of the bicycle model; what is felt on a bank announces nothing."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.units import STANDARD_GRAVITY
from strategies.detectors.cornering import Cornering
from tests.strategies.detectors.play import intervals, play, times

G = STANDARD_GRAVITY
TIME = times(1.0)


@pytest.mark.validates(
    "bicycle model, steady turn: steer = wheelbase / radius + understeer gradient x lateral acceleration (closed form; the definition of "
    "the gradient as in ISO 8855)"
)
@pytest.mark.parametrize("speed", [5.0, 12.0, 25.0])
@pytest.mark.parametrize("gradient", [-0.001, 0.002, 0.006])  # rad/(m/s²)
@pytest.mark.parametrize("above", [True, False])
def test_it_announces_from_the_steer_angle_of_the_level_on(speed: float, gradient: float, above: bool) -> None:
    level = 0.25 * G * (1.002 if above else 0.998)
    steer = 2.4 * level / speed**2 + gradient * level
    given = play(Cornering(understeer=gradient), vehicle_speed=speed, steer_angle=np.full(TIME.size, steer))
    assert bool(intervals(given["cornering_likely"])) == above


@pytest.mark.validates("statics: on a bank the specific force along the axle is g sin(bank) while the yaw rate is nothing")
@pytest.mark.parametrize("bank", [10.0, 20.0, 35.0])
@pytest.mark.parametrize("speed", [0.0, 1.5, 10.0])
def test_a_bank_alone_announces_and_confirms_nothing(bank: float, speed: float) -> None:
    side = G * np.sin(np.radians(bank))
    given = play(Cornering(), vehicle_speed=speed, specific_force_y=np.full(TIME.size, side), yaw_rate=0.0, steer_angle=0.0)
    assert not any(state.active.any() for state in given.values())


@pytest.mark.validates("circular motion: lateral acceleration = yaw rate x speed, whatever the bank; on a bank yaw shows as its cosine")
@pytest.mark.parametrize("bank", [0.0, 20.0])
def test_a_balanced_berm_is_a_corner_though_nothing_is_felt_sideways(bank: float) -> None:
    speed, lateral = 12.0, 0.5 * G
    body_yaw = lateral / speed * np.cos(np.radians(bank))
    given = play(Cornering(), vehicle_speed=speed, specific_force_y=0.0, yaw_rate=np.full(TIME.size, body_yaw))
    assert intervals(given["cornering"]) != []
    assert [corner for corner in range(4) if intervals(given["cornering_outer"], corner)] == [1, 3]

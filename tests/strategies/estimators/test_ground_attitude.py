"""Ground attitude: which part of the body's angles is the ground's, and what stays in the air."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.contract import State
from tests.strategies.estimators.lane import plug_in, run, spread

Array = NDArray[np.float64]
TICKS = 1000


def ground(air: Array, **values: float | Array) -> tuple[Array, Array]:
    """Bank and slope over time."""
    rest = {"body_roll": 0.0, "body_pitch": 0.0, "suspension_roll": 0.0, "suspension_pitch": 0.0}
    aloft = State(air.reshape(1, -1, 1))
    found = run(plug_in("GroundAttitude"), {**spread(TICKS, **{**rest, **values}), "airborne_likely": aloft, "airborne": aloft})
    return found["ground_bank"][0, :, 0], found["ground_slope"][0, :, 0]


def test_what_the_suspension_does_not_make_is_the_ground() -> None:
    bank, slope = ground(np.zeros(TICKS), body_roll=0.12, suspension_roll=0.04, body_pitch=-0.06, suspension_pitch=0.02)
    assert bank[-1] == pytest.approx(0.08)
    assert slope[-1] == pytest.approx(-0.08)


def test_in_the_air_the_last_ground_stays() -> None:
    """A body that pitches and hangs its wheels makes no slope."""
    air = np.zeros(TICKS)
    air[500:] = 1.0
    turned = np.where(air > 0.0, 0.4, 0.05)
    bank, slope = ground(air, body_roll=turned, body_pitch=-turned, suspension_pitch=0.02)
    assert bank == pytest.approx(0.05)
    assert slope == pytest.approx(-0.07)

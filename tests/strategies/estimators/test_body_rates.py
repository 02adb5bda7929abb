"""Body rates: drift, and the hand-over to the travels when a gyro is lost."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.strategies.estimators.lane import DT, plug_in, run, spread

Array = NDArray[np.float64]


def rates(ticks: int, **values: Any) -> dict[str, Array]:
    """Net rates; what isn't given is at rest and believed."""
    rest: dict[str, Any] = {"roll_rate": 0.0, "pitch_rate": 0.0, "roll_rate_valid": 1.0, "pitch_rate_valid": 1.0, "shaft_speed": [0.0] * 4}
    made = plug_in("BodyRates", motion_ratio=[0.6] * 4, half_track=[0.75] * 4, wheelbase=2.4)
    return run(made, spread(ticks, **{**rest, **values}))


def lost_from(ticks: int, first: int) -> Array:
    """Validity of a gyro that is lost at a tick."""
    return np.where(np.arange(ticks) < first, 1.0, 0.0)


def test_a_drift_goes_and_a_flight_does_not_become_one() -> None:
    drifting = rates(15_000, roll_rate=0.01)["net_roll_rate"][0, :, 0]
    assert abs(drifting[-1]) < 0.01 * 0.05  # 30 s are 3.8 time constants of 0.02 Hz
    turning = np.zeros(2000)
    turning[200:500] = 1.5  # 0.6 s of a flip
    after = rates(2000, pitch_rate=turning)["net_pitch_rate"][0, -1, 0]
    assert abs(after) < 0.0025  # measured 0.0019; 0.035 rad/s count at most, for 0.6 of 8 s


@pytest.mark.parametrize(
    ("shafts", "roll", "pitch"),
    [([-0.09, 0.09, -0.09, 0.09], 0.2, 0.0), ([0.072, 0.072, -0.072, -0.072], 0.0, 0.1), ([0.1, 0.1, 0.1, 0.1], 0.0, 0.0)],
)
def test_travels_give_the_rates_when_the_gyros_are_lost(shafts: list[float], roll: float, pitch: float) -> None:
    gone = lost_from(1500, 10)
    found = rates(1500, shaft_speed=shafts, roll_rate_valid=gone, pitch_rate_valid=gone)
    assert found["net_roll_rate"][0, -1, 0] == pytest.approx(roll, abs=1e-6)
    assert found["net_pitch_rate"][0, -1, 0] == pytest.approx(pitch, abs=1e-6)


@pytest.mark.parametrize("name", ["roll", "pitch"])
def test_losing_and_regaining_a_gyro_makes_no_step(name: str) -> None:
    ticks = 1500
    valid = np.ones(ticks)
    valid[500:1000] = 0.0
    shafts = [-0.09, 0.09, -0.09, 0.09] if name == "roll" else [0.09, 0.09, -0.09, -0.09]
    found = rates(ticks, **{f"{name}_rate": 0.03, f"{name}_rate_valid": valid, "shaft_speed": shafts})[f"net_{name}_rate"][0, :, 0]
    # the hand-over of 1.5 Hz moves by 1.9 % of the 0.17 rad/s between both per tick; a step through the smoothing would move by 27 %
    assert np.abs(np.diff(found)[400:]).max() < 0.17 * 2 * np.pi * 1.5 * DT * 1.05
    assert found[990] > 0.1  # it does get to the travels' rate

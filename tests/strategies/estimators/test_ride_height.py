"""Ride height: when it is learnt, and when not."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.units import STANDARD_GRAVITY
from tests.strategies.estimators.lane import Driven, estimate, plug_in, run, spread, states

Array = NDArray[np.float64]
OFFSETS = [0.012, 0.012, 0.02, -0.008]
CALM: dict[str, Any] = {
    **dict.fromkeys(("brake", "lateral_acceleration", "ground_bank", "ground_slope"), 0.0),
    "vehicle_speed": 10.0, "throttle": 0.2, "specific_force_z": STANDARD_GRAVITY, "shaft_speed": [0.0] * 4,
    "shaft_travel": [0.1 + offset for offset in OFFSETS], "shaft_travel_valid": [1.0] * 4,
}  # fmt: skip


def learnt(ticks: int = 10_000, air: float = 0.0, **values: Any) -> Array:
    """Offsets (4,) after some time."""
    given = {**spread(ticks, **{**CALM, **values}), **states(ticks, airborne_likely=air, airborne=0.0)}
    return run(plug_in("RideHeight"), given)["ride_height_offset"][:, -1, 0]  # type: ignore[no-any-return]


def test_a_load_is_learnt_while_rolling() -> None:
    assert learnt() == pytest.approx(OFFSETS)
    assert np.abs(learnt(1000)).max() < 0.5 * 0.02  # two seconds are little to go by


@pytest.mark.parametrize(
    "disturbed",
    [
        {"vehicle_speed": 1.0}, {"brake": 0.2}, {"throttle": 0.9}, {"lateral_acceleration": -3.0}, {"lateral_acceleration": 3.0},
        {"air": 1.0}, {"ground_bank": -0.15}, {"ground_slope": 0.15}, {"specific_force_z": 12.0}, {"shaft_speed": [0.3, -0.3, 0.3, -0.3]},
        {"brake_valid": 0.0}, {"throttle_valid": 0.0}, {"specific_force_z_valid": 0.0},
    ],
    ids=str,
)  # fmt: skip
def test_nothing_is_learnt_else(disturbed: dict[str, Any]) -> None:
    assert not learnt(**disturbed).any()


def test_a_corner_whose_sensor_is_not_believed_learns_nothing() -> None:
    found = learnt(shaft_travel_valid=[1.0, 0.0, 1.0, 1.0])
    assert found == pytest.approx([0.012, 0.0, 0.02, -0.008])


def test_it_never_exceeds_its_largest() -> None:
    assert learnt(shaft_travel=[0.19, 0.0, 0.1, 0.1]) == pytest.approx([0.04, -0.04, 0.0, 0.0])


def test_the_lane_gives_little(driven: Driven) -> None:
    """The demo car stands where its numbers say; sensors are off by 1 mm r.m.s. and rough ground packs it down."""
    found = estimate(driven, ["ride_height_offset"])["ride_height_offset"]
    for section in driven.names:
        assert np.abs(driven.cut(found, section)).max() < 4e-3  # measured 2.7 mm

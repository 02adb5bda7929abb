"""Declared sensors: what is refused, and the disturbance of the closed loop: resolution, offset, noise."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from dualduty.errors import BadInput
from dualduty.signals import CONTROLLER_LAYOUT
from dualduty.trace import Case
from plant.sensors import INSTRUMENTS, TYPICAL, Disturbance, SensorError, Sensors

CASES = (Case("lane", "one", "dash", 1), Case("lane", "two", "dash", 1), Case("lane", "one", "dash", 2))
TRAVEL = CONTROLLER_LAYOUT.rows["shaft_travel"]


def test_an_offset_is_drawn_once_per_case_and_corner() -> None:
    errors = Disturbance(Sensors({"shaft_travel": SensorError(offset_spread=1e-3)}), CASES).take(50)
    assert (errors == errors[:, :1]).all()
    assert len(np.unique(errors[TRAVEL, 0, 0])) == 4
    assert np.array_equal(errors[..., 0], errors[..., 1])  # the candidate makes no difference, the seed does
    assert not np.array_equal(errors[..., 0], errors[..., 2])


def test_noise_has_its_size_and_does_not_depend_on_how_time_is_cut() -> None:
    sensors = Sensors({"shaft_travel": SensorError(noise=2e-3, dropout=0.1)}, seed=7)
    whole = Disturbance(sensors, CASES).take(4000)[TRAVEL]
    cut = Disturbance(sensors, CASES)
    parts = np.concatenate([cut.take(ticks)[TRAVEL] for ticks in (1, 999, 3000)], axis=1)
    assert np.array_equal(whole, parts, equal_nan=True)
    # 16000 draws: the standard deviation is known to 0.6 %, the share of dropouts to 2.4 %; five times that
    assert abs(np.nanstd(whole[..., 0]) / 2e-3 - 1.0) < 0.03
    assert abs(np.isnan(whole[..., 0]).mean() / 0.1 - 1.0) < 0.12


def test_channels_without_an_entry_have_no_error() -> None:
    errors = Disturbance(Sensors({"shaft_travel": SensorError(noise=1.0)}), CASES).take(20)
    assert (errors[TRAVEL.stop :] == 0.0).all()
    assert not Disturbance(Sensors(), CASES).take(3).any()


@pytest.mark.parametrize(
    ("field", "problem"),
    [
        ({"noise": -1.0}, "noise: expected 0 or more, came -1.0"),
        ({"delay": float("inf")}, "delay: expected 0 or more, came inf"),
        ({"dropout": 1.5}, "dropout: expected a share of at most 1, came 1.5"),
        ({"order": 3}, "order: expected 1 or 2, came 3"),
        ({"low": 1.0, "high": 1.0}, "low, high: expected a range, came 1 to 1"),
        ({"offset": (1.0, 2.0)}, r"offset: expected one number or four, came \(1.0, 2.0\)"),
        ({"gain": float("nan")}, "gain: expected one number or four, came nan"),
        ({"drift": float("nan")}, "drift: expected a number, came nan"),
    ],
)
def test_errors_that_no_sensor_has(field: dict[str, Any], problem: str) -> None:
    with pytest.raises(BadInput, match=f"^sensors: shaft_travel: {problem}$"):
        Sensors({"shaft_travel": SensorError(**field)})


def test_a_vehicle_channel_has_one_offset() -> None:
    with pytest.raises(BadInput, match=r"^sensors: yaw_rate: offset: expected one number, came \(0\.0, 0\.0, 0\.0, 0\.0\)$"):
        Sensors({"yaw_rate": SensorError(offset=(0.0, 0.0, 0.0, 0.0))})


def test_what_is_shipped_is_accepted() -> None:
    assert set(Sensors({**TYPICAL, **INSTRUMENTS}).errors) == {*TYPICAL, *INSTRUMENTS}

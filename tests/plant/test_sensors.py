"""Declared sensors: what is refused, what is shipped."""

from __future__ import annotations

from typing import Any

import pytest

from dualduty.errors import BadInput
from plant.sensors import INSTRUMENTS, TYPICAL, SensorError, Sensors


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

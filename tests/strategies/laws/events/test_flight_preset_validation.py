"""FlightPreset on a nonlinear corner dropped on flat ground: what following the landing speed is worth."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from dualduty.units import STANDARD_GRAVITY
from strategies.laws.flight_preset import FlightPreset


@pytest.mark.validates("closed form: a drop from h arrives at sqrt(2 g h); peaks computed on the corner model, a constant 70 % beside it")
@pytest.mark.parametrize(("height", "gain"), [(0.3, 0.96), (0.6, 0.93), (1.0, 1.0), (1.8, 0.91)])
def test_softer_than_one_duty_for_all_heights(corner: Any, ran: Callable[..., Any], height: float, gain: float) -> None:
    """Measured: 2.83 against 2.96 g, 3.61 / 3.91, 4.84 / 4.86, 7.78 / 8.61. From 0.1 m it is 2.13 / 2.02 g: worse, in peak."""
    arrives = float((2.0 * STANDARD_GRAVITY * height) ** 0.5)
    duty = ran(FlightPreset(), {"airborne_likely": 1.0, "airborne": 1.0, "landing_speed": arrives})["compression"][0, 0]
    scaled, constant = (corner.drop(height, lambda _travel, _speed, duty=duty: (duty, 0.5)).peak for duty in (duty, 0.7))
    assert scaled < gain * constant + 1e-9

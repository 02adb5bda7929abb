"""FlightPreset: as firm as the landing that is coming, and still so while the layer fades out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from dualduty.lookup import Curve
from strategies.laws.flight_preset import FlightPreset

Ran = Callable[..., Any]
IN_AIR: dict[str, Any] = {"airborne_likely": 1.0, "airborne": 0.0, "landing_speed": 2.5}


@pytest.mark.parametrize(("speed", "expected"), [(0.0, 0.25), (2.5, 0.4), (3.5, 0.55), (20.0, 0.9)])
def test_compression_by_landing_speed(ran: Ran, speed: float, expected: float) -> None:
    assert ran(FlightPreset(rebound=0.3), IN_AIR | {"landing_speed": speed})["compression"][:, 0] == pytest.approx([expected] * 4)


def test_by_corner(ran: Ran) -> None:
    values = np.array([[0.2, 0.2, 0.4, 0.4], [0.6, 0.6, 0.8, 0.8]]).reshape(2, 4, 1)
    rebound: Any = np.array([0.3, 0.3, 0.5, 0.5]).reshape(4, 1, 1)
    duty = ran(FlightPreset(compression=Curve(np.array([0.0, 5.0]), values), rebound=rebound), IN_AIR)
    assert duty["compression"][:, 0] == pytest.approx([0.4, 0.4, 0.6, 0.6])
    assert duty["rebound"][:, 0].tolist() == [0.3, 0.3, 0.5, 0.5]


def test_the_demand_stands_when_the_flight_is_over(ran: Ran) -> None:
    """The prediction falls to nothing at touchdown; what was asked for must not."""
    values = IN_AIR | {"airborne_likely": np.repeat([1.0, 0.0], [50, 100]), "landing_speed": np.repeat([4.5, 0.0], [50, 100])}
    compression = ran(FlightPreset(), values, 150)["compression"]
    assert compression[:, 49:] == pytest.approx(0.7)


def test_confirmed_flight_counts_as_the_pre_arm_does(ran: Ran) -> None:
    air, speed = np.repeat([0.0, 1.0, 0.0], 20), np.repeat([0.0, 4.5, 1.0], 20)
    for state in ("airborne_likely", "airborne"):
        values = {"airborne_likely": 0.0, "airborne": 0.0, "landing_speed": speed} | {state: air}
        compression = ran(FlightPreset(), values, 60)["compression"]
        assert compression[:, :20] == pytest.approx(0.25)
        assert compression[:, 20:] == pytest.approx(0.7)

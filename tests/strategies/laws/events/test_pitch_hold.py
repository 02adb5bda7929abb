"""PitchHold: which sides it asks under brake and throttle, and what it asks when the states have closed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from strategies.laws.pitch_hold import PitchHold

Ran = Callable[..., Any]
BRAKED: dict[str, Any] = {"braking": 1.0, "accelerating": 0.0, "net_pitch_rate": 0.0}
DRIVEN = BRAKED | {"braking": 0.0, "accelerating": 1.0}
COASTING = BRAKED | {"braking": 0.0}
LAW = PitchHold(front_compression=0.6, rear_rebound=0.5, rear_compression=0.4, front_rebound=0.3)


@pytest.mark.parametrize(
    ("state", "compression", "rebound"),
    [(BRAKED, [0.6, 0.6, 0, 0], [0, 0, 0.5, 0.5]), (DRIVEN, [0, 0, 0.4, 0.4], [0.3, 0.3, 0, 0]), (COASTING, [0] * 4, [0] * 4)],
)
def test_sides_by_direction(ran: Ran, state: dict[str, Any], compression: list[float], rebound: list[float]) -> None:
    duty = ran(LAW, state)
    assert duty["compression"][:, 0].tolist() == compression
    assert duty["rebound"][:, 0].tolist() == rebound


def test_brake_counts_before_throttle(ran: Ran) -> None:
    both = ran(LAW, BRAKED | {"accelerating": 1.0})
    assert both["compression"][:, 0].tolist() == [0.6, 0.6, 0, 0]


def test_the_demand_stands_when_the_state_closes(ran: Ran) -> None:
    law = PitchHold(front_compression=0.6, rear_rebound=0.5, rear_compression=0.4, change_over=0.0)
    for pedal, corner, expected in (("braking", 0, 0.6), ("accelerating", 2, 0.4)):
        duty = ran(law, COASTING | {pedal: np.repeat([0.0, 1.0, 0.0], [10, 10, 100])}, 120)
        assert (duty["compression"][corner, :10] == 0.0).all()
        assert (duty["compression"][corner, 10:] == expected).all()


def test_from_brake_to_throttle_in_its_time(ran: Ran) -> None:
    law = PitchHold(front_compression=0.6, rear_compression=0.4, change_over=0.1)
    duty = ran(law, BRAKED | {"braking": np.repeat([1.0, 0.0], [10, 60]), "accelerating": np.repeat([0.0, 1.0], [10, 60])}, 70)
    assert np.abs(np.diff(duty["compression"], axis=1)).max() == pytest.approx(0.6 * 2 / 50)  # 50 ticks of 2 ms for two units of side
    assert duty["compression"][2, -1] == pytest.approx(0.4)
    assert duty["compression"][0, -1] == 0.0

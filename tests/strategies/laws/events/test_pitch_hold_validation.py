"""PitchHold against ISO 8855."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from strategies.laws.pitch_hold import PitchHold


@pytest.mark.validates("ISO 8855: nose down is positive; the front then compresses and the rear extends")
@pytest.mark.parametrize(
    ("rate", "compression", "rebound"), [(1.0, [0.6, 0.6, 0, 0], [0, 0, 0.6, 0.6]), (-1.0, [0.1, 0.1, 0.6, 0.6], [0.6, 0.6, 0.2, 0.2])]
)
def test_resists_the_pitch(ran: Callable[..., Any], rate: float, compression: list[float], rebound: list[float]) -> None:
    law = PitchHold(front_compression=0.1, rear_rebound=0.2, rate_gain=0.6)
    duty = ran(law, {"net_pitch_rate": rate, "braking": 1.0, "accelerating": 0.0})
    assert duty["compression"][:, 0] == pytest.approx(compression)
    assert duty["rebound"][:, 0] == pytest.approx(rebound)

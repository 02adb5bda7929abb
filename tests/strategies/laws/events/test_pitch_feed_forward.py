"""PitchFeedForward: ahead of dive and squat, gone when the springs carry, against the swing back, silent at standstill."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from strategies.laws.pitch_feed_forward import PitchFeedForward

Ran = Callable[..., Any]
ROLLING: dict[str, Any] = {"vehicle_speed": 12.0, "brake": 0.0, "throttle": 0.0}


def pressed(ticks: int, let_go: int = 0) -> Any:
    """A pedal: ten ticks free, then full, and free again for `let_go` ticks."""
    return np.repeat([0.0, 1.0, 0.0], [10, ticks - 10 - let_go, let_go])


@pytest.mark.parametrize(("pedal", "sinking"), [("brake", [0, 1]), ("throttle", [2, 3])])
def test_the_sinking_end_in_compression_the_rising_end_in_rebound(ran: Ran, pedal: str, sinking: list[int]) -> None:
    force = ran(PitchFeedForward(), ROLLING | {pedal: pressed(11)}, 11)
    rising = [corner for corner in range(4) if corner not in sinking]
    assert (force["compression"][sinking, 10] > 100.0).all()
    assert (force["rebound"][rising, 10] > 100.0).all()
    assert force["compression"][rising].max() == force["rebound"][sinking].max() == 0.0


def test_gone_under_steady_braking_and_against_the_swing_back(ran: Ran) -> None:
    force = ran(PitchFeedForward(), ROLLING | {"brake": pressed(1520, 20)}, 1520)
    assert force["compression"][0, 1499] < 0.01 * force["compression"][0, 10]  # 3 s: fifteen times the springs' 0.2 s
    assert force["rebound"][0, 1501] > 100.0
    assert force["compression"][2, 1501] > 100.0


def test_the_brake_counts_against_the_motion(ran: Ran) -> None:
    ahead, still, back = (ran(PitchFeedForward(), {**ROLLING, "vehicle_speed": v, "brake": pressed(11)}, 11) for v in (12.0, 0.0, -3.0))
    assert max(side.max() for side in still.values()) == 0.0
    assert np.array_equal(back["rebound"], ahead["compression"])  # rolling back, the same brake lifts the nose
    half = ran(PitchFeedForward(rolling=1.0), {**ROLLING, "vehicle_speed": 0.5, "brake": pressed(11)}, 11)
    assert half["compression"][0, 10] == pytest.approx(0.5 * ahead["compression"][0, 10])


def test_an_offset_pedal_below_zero_is_no_pedal(ran: Ran) -> None:
    force = ran(PitchFeedForward(), ROLLING | {"brake": np.repeat([0.0, -0.03], [5, 5]), "throttle": np.repeat([0.0, -0.03], [5, 5])}, 10)
    assert max(side.max() for side in force.values()) == 0.0

"""Shaft speed: starts, gaps and jumps."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.strategies.estimators.lane import DT, plug_in, run, spread

Array = NDArray[np.float64]
TICKS = 500


def speed_of(travel: NDArray[Any], valid: NDArray[Any] | float = 1.0) -> Array:
    """Front-left shaft speed over a travel."""
    given = spread(travel.size, shaft_travel_valid=valid) if np.ndim(valid) else spread(travel.size, shaft_travel_valid=float(valid))
    rows = {name: np.ascontiguousarray(np.broadcast_to(array, (4, travel.size, 1))) for name, array in given.items()}
    travels = np.ascontiguousarray(np.broadcast_to(travel.reshape(1, -1, 1), (4, travel.size, 1)))
    return run(plug_in("ShaftSpeed"), {"shaft_travel": travels, **rows})["shaft_speed"][0, :, 0]  # type: ignore[no-any-return]


def test_it_starts_at_rest_wherever_the_shaft_is() -> None:
    assert np.array_equal(speed_of(np.full(TICKS, 0.183)), np.zeros(TICKS))


def test_a_steady_stroke_is_told_exactly() -> None:
    # rel: after 0.2 s the poles of 45 Hz have left e^-40
    assert speed_of(0.1 + 0.7 * np.arange(TICKS) * DT)[100:] == pytest.approx(0.7, rel=1e-9)


def test_a_step_of_speed_overshoots_by_four_percent() -> None:
    speed = speed_of(0.1 + np.maximum(np.arange(TICKS) - 50, 0) * DT)
    assert 1.035 < speed.max() < 1.055  # 4.3 % in continuous time: exp(-pi)


def test_a_lost_sample_hardly_shows() -> None:
    travel = 0.1 + 0.5 * np.arange(TICKS) * DT
    valid = np.ones(TICKS)
    valid[250:253] = 0.0
    held = travel.copy()
    held[250:253] = travel[249]
    # held travel taken for travel would read 0.07 in place of 0.5 by then; speed that dies away at 4.5 Hz leaves 0.42
    assert np.abs(speed_of(held, valid) - 0.5)[240:].max() < 0.09


@pytest.mark.parametrize("jump", [0.05, -0.05])
def test_a_jump_after_a_long_gap_is_no_stroke(jump: float) -> None:
    travel, valid = np.full(TICKS, 0.1), np.ones(TICKS)
    valid[200:300] = 0.0
    travel[300:] += jump
    assert np.abs(speed_of(travel, valid)).max() == 0.0
    assert np.abs(speed_of(travel)).max() > 5.0  # what it would be, were the gap not told

"""RollFeedForward: ahead of the turn, gone in a steady one, against the swing back on the way out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from strategies.laws.roll_feed_forward import RollFeedForward

Ran = Callable[..., Any]
STRAIGHT: dict[str, Any] = {"vehicle_speed": 15.0, "steer_angle": 0.0, "lateral_acceleration": 0.0}
ONLY_YAW = RollFeedForward(steer_share=0.0)


def turning(level: float, ticks: int) -> Any:
    """Straight for ten ticks, then a turn."""
    return np.repeat([0.0, level], [10, ticks - 10])


@pytest.mark.parametrize(("level", "outer"), [(4.0, [1, 3]), (-4.0, [0, 2])])
def test_outer_compression_and_inner_rebound_at_once(ran: Ran, level: float, outer: list[int]) -> None:
    force = ran(ONLY_YAW, STRAIGHT | {"lateral_acceleration": turning(level, 11)}, 11)
    inner = [corner for corner in range(4) if corner not in outer]
    assert (force["compression"][outer, 10] > 200.0).all()
    assert (force["rebound"][inner, 10] > 200.0).all()
    assert force["compression"][inner].max() == force["rebound"][outer].max() == 0.0


def test_asks_nothing_in_a_steady_turn_and_resists_the_way_out(ran: Ran) -> None:
    lateral = np.concatenate([turning(4.0, 1500), np.zeros(20)])
    force = ran(ONLY_YAW, STRAIGHT | {"lateral_acceleration": lateral}, 1520)
    assert force["compression"][1, 1499] < 0.01 * force["compression"][1, 10]  # 3 s: fifteen times the springs' 0.2 s
    assert force["rebound"][1, 1501] > 200.0  # the outer side is held while the body swings back
    assert force["compression"][0, 1501] > 200.0


def test_the_steering_leads_the_yaw_rate(ran: Ran) -> None:
    steered = STRAIGHT | {"steer_angle": turning(0.05, 12)}
    assert ran(RollFeedForward(steer_share=0.8), steered, 12)["compression"][1, 11] > 200.0
    assert ran(ONLY_YAW, steered, 12)["compression"].max() == 0.0


def test_counter_steering_is_not_believed(ran: Ran) -> None:
    """In a slide the wheels point out of the turn: the car goes on turning, and the support must not change sides."""
    slide = STRAIGHT | {"lateral_acceleration": turning(4.0, 12), "steer_angle": turning(-0.2, 12)}
    assert np.array_equal(ran(RollFeedForward(steer_share=1.0), slide, 12)["compression"], ran(ONLY_YAW, slide, 12)["compression"])


def test_steering_beyond_the_grip_is_cut(ran: Ran) -> None:
    law = RollFeedForward(steer_share=1.0, believed_steer=5.0)
    some, more = (ran(law, STRAIGHT | {"steer_angle": turning(angle, 12)}, 12)["compression"] for angle in (0.2, 0.6))
    assert np.array_equal(some, more)


def test_no_jump_where_the_turn_crosses_zero(ran: Ran) -> None:
    """A noisy yaw rate round zero must not switch the lead on and off."""
    law = RollFeedForward(steer_share=1.0, springs_hz=0.05)
    lateral = np.repeat([0.0, -1e-6, 1e-6, -1e-6], [1, 50, 50, 50])
    force = ran(law, STRAIGHT | {"steer_angle": np.repeat([0.0, 0.03], [1, 150]), "lateral_acceleration": lateral}, 151)["compression"][1]
    assert np.abs(np.diff(force[1:])).max() < 0.01 * force.max()


def test_the_outer_load_stands_still_without_speed(ran: Ran) -> None:
    force = ran(RollFeedForward(steer_share=1.0), STRAIGHT | {"vehicle_speed": 0.0, "steer_angle": turning(0.6, 12)}, 12)
    assert max(side.max() for side in force.values()) == 0.0

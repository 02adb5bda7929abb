"""RollHold: which sides it asks in which turn, how it changes over, and what it asks when the state has closed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from strategies.laws.roll_hold import RollHold

Ran = Callable[..., Any]
LEFT_TURN: dict[str, Any] = {"cornering": 1.0, "cornering_outer": [0, 1, 0, 1], "net_roll_rate": 0.0, "suspension_roll": 0.0}
RIGHT_TURN = LEFT_TURN | {"cornering_outer": [1, 0, 1, 0]}
STRAIGHT = LEFT_TURN | {"cornering": 0.0, "cornering_outer": [0, 0, 0, 0]}


def over(*parts: tuple[dict[str, Any], int]) -> dict[str, Any]:
    """Stretches of constant inputs, one after the other."""
    joined = {}
    for name in LEFT_TURN:
        rows = [np.repeat(np.reshape(values[name], (-1, 1)).astype(float), ticks, axis=1) for values, ticks in parts]
        joined[name] = np.concatenate(rows, axis=1)
    return joined


@pytest.mark.parametrize(("turn", "compression", "rebound"), [(LEFT_TURN, [0, 0.6, 0, 0.6], [0.4, 0, 0.4, 0]),
                                                              (RIGHT_TURN, [0.6, 0, 0.6, 0], [0, 0.4, 0, 0.4])])  # fmt: skip
def test_outer_compression_and_inner_rebound(ran: Ran, turn: dict[str, Any], compression: list[float], rebound: list[float]) -> None:
    duty = ran(RollHold(outer_compression=0.6, inner_rebound=0.4), turn)
    assert duty["compression"][:, 0].tolist() == compression
    assert duty["rebound"][:, 0].tolist() == rebound


def test_all_four_duties_for_a_takeover(ran: Ran) -> None:
    duty = ran(RollHold(outer_compression=0.8, inner_rebound=0.7, outer_rebound=0.2, inner_compression=0.1), LEFT_TURN)
    assert duty["compression"][:, 0].tolist() == [0.1, 0.8, 0.1, 0.8]
    assert duty["rebound"][:, 0].tolist() == [0.7, 0.2, 0.7, 0.2]


def test_the_demand_stands_when_the_state_closes(ran: Ran) -> None:
    duty = ran(RollHold(), over((LEFT_TURN, 10), (STRAIGHT, 200)), 210)
    for side in duty.values():
        np.testing.assert_array_equal(side[:, 10:], np.repeat(side[:, 9:10], 200, axis=1))
        assert side.max() > 0.4


def test_a_turn_the_other_way_is_crossed_in_its_time(ran: Ran) -> None:
    duty = ran(RollHold(outer_compression=0.6, change_over=0.1), over((LEFT_TURN, 10), (RIGHT_TURN, 60)), 70)
    right, left = duty["compression"][1], duty["compression"][0]
    # 50 ticks of 2 ms from one side to the other: after 25 neither side is asked
    assert right[34] == pytest.approx(0.0, abs=1e-12)  # rounding of 25 steps
    assert left[59] == pytest.approx(0.6)
    assert left[58] < 0.6
    assert (right * left).max() < 1e-12  # never both
    steps = np.abs(np.diff(duty["compression"], axis=1))
    assert steps.max() == pytest.approx(0.6 * 2 / 50)


def test_roll_beyond_its_free_angle_is_resisted(ran: Ran) -> None:
    law = RollHold(rate_gain=0.0, roll_gain=4.0, free_roll=0.02)
    assert ran(law, STRAIGHT | {"suspension_roll": 0.019})["compression"].max() == 0.0
    duty = ran(law, STRAIGHT | {"suspension_roll": 0.07})
    assert duty["compression"][:, 0] == pytest.approx([0, 0.2, 0, 0.2])
    assert duty["rebound"][:, 0] == pytest.approx([0.2, 0, 0.2, 0])


def test_on_the_way_back_the_angle_takes_out_what_the_rate_puts_in(ran: Ran) -> None:
    law = RollHold(rate_gain=0.5, roll_gain=4.0, free_roll=0.0)
    out, back = (ran(law, STRAIGHT | {"suspension_roll": 0.05, "net_roll_rate": rate}) for rate in (0.4, -0.4))
    assert out["compression"][1, 0] == pytest.approx(0.4)
    assert max(side.max() for side in back.values()) == pytest.approx(0.0, abs=1e-15)  # one rounding


def test_silent_on_roll_unless_asked(ran: Ran) -> None:
    """A calibration that doesn't know the gain behaves as it did."""
    assert ran(RollHold(), STRAIGHT | {"suspension_roll": 0.2})["compression"].max() == 0.0


def test_duty_stays_within_its_range(ran: Ran) -> None:
    duty = ran(RollHold(rate_gain=5.0, roll_gain=20.0), LEFT_TURN | {"net_roll_rate": 3.0, "suspension_roll": 0.3})
    assert duty["compression"].max() == 1.0
    assert duty["rebound"].max() == 1.0

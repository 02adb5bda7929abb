"""RollHold against ISO 8855 and the power that a damper takes from a rolling body."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from strategies.laws.roll_hold import RollHold

NOTHING: dict[str, Any] = {"cornering": 0.0, "cornering_outer": [0, 0, 0, 0], "net_roll_rate": 0.0, "suspension_roll": 0.0}


@pytest.mark.validates("ISO 8855: right side down is positive; the right side then compresses and the left extends")
def test_resists_the_roll(ran: Callable[..., Any]) -> None:
    duty = ran(RollHold(rate_gain=0.5), NOTHING | {"net_roll_rate": 1.0})
    assert duty["compression"][:, 0].tolist() == [0.0, 0.5, 0.0, 0.5]
    assert duty["rebound"][:, 0].tolist() == [0.5, 0.0, 0.5, 0.0]


@pytest.mark.validates("law of nature: a side that the roll doesn't move takes no power, so all firmness by rate stands on moving sides")
@pytest.mark.parametrize("rate", [-1.3, -0.2, 0.4, 2.0])
def test_firm_only_where_the_roll_moves_the_shaft(ran: Callable[..., Any], rate: float) -> None:
    shaft = rate * np.array([-0.5, 0.5, -0.5, 0.5])  # a rolling body: the right shafts compress with positive rate
    duty = ran(RollHold(rate_gain=0.3), NOTHING | {"net_roll_rate": rate})
    assert (duty["compression"][:, 0] > 0.0).tolist() == (shaft > 0.0).tolist()
    assert (duty["rebound"][:, 0] > 0.0).tolist() == (shaft < 0.0).tolist()

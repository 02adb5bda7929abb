"""GroundSoftening: takes out what the ground under the wheels says, the most of it, and keeps it while the layer fades out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from strategies.laws.ground_softening import GroundSoftening

Ran = Callable[..., Any]
NONE: dict[str, Any] = {"corrugation": 0.0, "whoops": 0.0, "rough_ground": 0.0}
LAW = GroundSoftening(
    corrugation_compression=0.2, corrugation_rebound=0.1, whoops_compression=0.05, whoops_rebound=0.3, rough_compression=0.1,
    rough_rebound=0.02, change_over=0.0,
)  # fmt: skip


@pytest.mark.parametrize(
    ("states", "compression", "rebound"),
    [
        ((), 0.0, 0.0),
        (("corrugation",), -0.2, -0.1),
        (("whoops",), -0.05, -0.3),
        (("rough_ground",), -0.1, -0.02),
        (("whoops", "corrugation"), -0.2, -0.3),  # the most of each side, not the sum
        (("whoops", "corrugation", "rough_ground"), -0.2, -0.3),
    ],
)
def test_what_each_ground_takes_out(ran: Ran, states: tuple[str, ...], compression: float, rebound: float) -> None:
    duty = ran(LAW, NONE | dict.fromkeys(states, 1.0))
    assert duty["compression"][:, 0].tolist() == [compression] * 4
    assert duty["rebound"][:, 0].tolist() == [rebound] * 4


def test_the_demand_stands_when_the_state_closes(ran: Ran) -> None:
    duty = ran(LAW, NONE | {"whoops": np.repeat([1.0, 0.0], [10, 90])}, 100)
    assert (duty["rebound"] == -0.3).all()


def test_from_one_ground_to_the_next_in_its_time(ran: Ran) -> None:
    law = GroundSoftening(corrugation_compression=0.2, whoops_compression=0.0, change_over=0.5)
    states = {"corrugation": np.repeat([1.0, 0.0], [10, 90]), "whoops": np.repeat([0.0, 1.0], [10, 90])}
    out = ran(law, NONE | states, 100)["compression"][0]
    assert np.abs(np.diff(out)).max() == pytest.approx(0.002 / 0.5)  # all of the duty within half a second
    assert out[59] == pytest.approx(0.0, abs=1e-12)  # 50 ticks for 20 %


def test_by_axle(ran: Ran) -> None:
    rear: Any = np.array([0.0, 0.0, 0.2, 0.2]).reshape(4, 1, 1)
    duty = ran(GroundSoftening(whoops_rebound=rear, change_over=0.0), NONE | {"whoops": 1.0})
    assert duty["rebound"][:, 0].tolist() == [0.0, 0.0, -0.2, -0.2]


def test_a_softening_is_a_difference() -> None:
    assert GroundSoftening.trims

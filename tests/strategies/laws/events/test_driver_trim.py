"""DriverTrim: whole steps, at most so many, at once at standstill and slowly while driving."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from strategies.laws.driver_trim import DriverTrim

Ran = Callable[..., Any]
LAW = DriverTrim(compression_step=0.05, rebound_step=0.03, most_steps=3.0, change_over=0.5)


@pytest.mark.parametrize(("said", "steps"), [(0, 0), (2, 2), (-1, -1), (9, 3), (-9, -3), (0.4, 0), (1.8, 2)])
def test_whole_steps_within_their_number(ran: Ran, said: float, steps: int) -> None:
    duty = ran(LAW, {"driver_trim": said, "standstill": 1.0})
    assert duty["compression"][:, 0] == pytest.approx([0.05 * steps] * 4)
    assert duty["rebound"][:, 0] == pytest.approx([0.03 * steps] * 4)


def test_steps_by_axle(ran: Ran) -> None:
    by_axle: Any = np.array([0.02, 0.02, 0.06, 0.06]).reshape(4, 1, 1)
    duty = ran(DriverTrim(compression_step=by_axle), {"driver_trim": 1.0, "standstill": 1.0})
    assert duty["compression"][:, 0] == pytest.approx([0.02, 0.02, 0.06, 0.06])


@pytest.mark.parametrize(("standstill", "ticks"), [(1.0, 1), (0.0, 500)])
def test_at_once_at_standstill_slowly_while_driving(ran: Ran, standstill: float, ticks: int) -> None:
    """Two steps at 0.5 s each are 500 ticks of 2 ms."""
    said = np.repeat([0.0, 2.0], [10, 600])
    moved = ran(LAW, {"driver_trim": said, "standstill": standstill}, 610)["compression"][0]
    assert moved[9] == 0.0
    assert moved[9 + ticks] == pytest.approx(0.1)
    assert moved[9 + ticks - 1] < 0.1 - 1e-6


def test_between_two_steps_it_does_not_flicker(ran: Ran) -> None:
    said = 1.5 + 0.15 * np.sin(np.arange(400.0))
    moved = ran(LAW, {"driver_trim": said, "standstill": 1.0}, 400)["compression"][0]
    assert (np.diff(moved) != 0.0).sum() == 0


def test_a_trim_is_a_difference() -> None:
    assert DriverTrim.trims

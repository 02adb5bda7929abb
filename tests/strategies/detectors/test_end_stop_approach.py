"""End-stop approach: when it opens, for which corner, and when there is nothing to say."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from strategies.detectors.end_stop_approach import NEVER, EndStopApproach
from tests.strategies.detectors.played import DT, played

Array = NDArray[np.float64]

STOPS: dict[str, Any] = {"bump_contact": 0.22, "droop_contact": 0.0}


def moved(speed: Array, start: float = 0.1, values: dict[str, Any] | None = None, **inputs: Any) -> dict[str, Array]:
    """Outputs for shafts that move at a (tick,) speed, all corners alike."""
    travel = start + np.cumsum(speed) * DT
    four = {"shaft_travel": np.tile(travel, (4, 1)), "shaft_speed": np.tile(speed, (4, 1))}
    return played(EndStopApproach(**{**STOPS, **(values or {})}), len(speed), **{**four, **inputs})


@pytest.mark.parametrize(("speed", "stop", "other"), [(1.0, "bump", "droop"), (-1.0, "droop", "bump")])
def test_it_opens_so_long_before_the_stop(speed: float, stop: str, other: str) -> None:
    way = 0.12 if speed > 0 else 0.1
    outputs = moved(np.full(round(way / abs(speed) / DT), speed))
    opened = int(np.argmax(outputs[f"{stop}_approach"][0]))
    left = (len(outputs[f"{stop}_approach"][0]) - 1 - opened) * DT
    assert left == pytest.approx(0.04 - 0.002, abs=0.003)  # `ahead`, less a tick of waiting
    assert not outputs[f"{other}_approach"].any()
    assert (outputs[f"time_to_{other}"] == NEVER).all()


def test_slow_enough_it_is_no_matter() -> None:
    outputs = moved(np.full(600, 0.2))
    assert not outputs["bump_approach"].any()
    assert outputs["time_to_bump"][0, -2] == 0.0  # it is there, all the same


def test_a_shaft_that_slows_down_in_time_never_arrives() -> None:
    speed: Array = np.maximum(2.0 - 40.0 * np.arange(100) * DT, 0.0)  # stops after 50 mm
    late = moved(speed, values={"trust": 1.0})
    assert late["time_to_bump"][0, 20] == NEVER
    assert not late["bump_approach"][:, 20:].any()
    blind = moved(speed, start=0.15, values={"trust": 0.0})
    assert blind["bump_approach"].any()  # by speed alone it would


def test_a_shaft_that_speeds_up_is_not_expected_to_go_on_so() -> None:
    speed = np.linspace(0.5, 1.3, 20)
    gap = 0.22 - (0.1 + np.cumsum(speed) * DT)
    outputs = moved(speed)
    np.testing.assert_allclose(outputs["time_to_bump"][0], gap / speed)


def test_each_corner_has_its_own_stop() -> None:
    contact = np.array([0.15, 0.22, 0.22, 0.22]).reshape(4, 1, 1)
    outputs = moved(np.full(40, 1.0), values={"bump_contact": contact})
    assert [bool(row.any()) for row in outputs["bump_approach"]] == [True, False, False, False]


def test_a_travel_that_is_not_believed_approaches_nothing() -> None:
    valid = [1.0, 0.0, 1.0, 1.0]
    outputs = moved(np.full(60, 1.0), shaft_travel_valid=valid)
    assert [bool(row.any()) for row in outputs["bump_approach"]] == [True, False, True, True]
    assert (outputs["time_to_bump"][1] == NEVER).all()
    assert (outputs["time_to_droop"][1] == NEVER).all()


def test_it_stays_for_a_while_and_closes() -> None:
    speed = np.concatenate([np.full(45, 2.0), np.full(60, -0.3)])  # to 0.28 m, back out at a crawl
    outputs = moved(speed)
    active = outputs["bump_approach"][0]
    assert active[44] == 1.0
    assert active[45:].sum() <= 10  # 20 ms
    assert active[-1] == 0.0

"""EndStop: each stop has its own side; after a blow the rebound side holds the spring's push for a while."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from strategies.laws.end_stop import EndStop

Ran = Callable[..., Any]
LAW = EndStop(bump_contact=0.22, motion_ratio=0.62, unsprung_mass=36.0, static_wheel_load=2118.0)
AT_REST: dict[str, Any] = {"shaft_travel": 0.1, "shaft_speed": 0.0, "net_spring_force": 0.0}


def test_each_stop_has_its_own_side(ran: Ran) -> None:
    moving = ran(LAW, AT_REST | {"shaft_speed": [1.0, -1.0, 0.0, 2.0]})
    assert (moving["compression"][:, 0] > 0.0).tolist() == [True, False, False, True]
    assert (moving["rebound"][:, 0] > 0.0).tolist() == [False, True, False, False]
    assert moving["compression"][3, 0] == pytest.approx(4.0 * moving["compression"][0, 0])  # the square of the speed


def test_the_closer_to_its_stop_the_more_force_until_the_reserve(ran: Ran) -> None:
    travels = np.linspace(0.0, 0.25, 40)
    bump = ran(LAW, AT_REST | {"shaft_travel": travels, "shaft_speed": 1.0}, 40)["compression"][0]
    droop = ran(LAW, AT_REST | {"shaft_travel": travels, "shaft_speed": -1.0}, 40)["rebound"][0]
    assert (np.diff(bump[travels < 0.205]) > 0.0).all()
    assert np.ptp(bump[travels > 0.205]) == 0.0
    assert (np.diff(droop[travels > 0.015]) < 0.0).all()
    assert np.ptp(droop[travels < 0.015]) == 0.0


def test_what_the_spring_does_is_not_asked_of_the_damper(ran: Ran) -> None:
    alone, helped = (ran(LAW, AT_REST | {"shaft_speed": 1.5, "net_spring_force": f})["compression"][0, 0] for f in (0.0, 1200.0))
    assert alone - helped == pytest.approx(1200.0)
    assert ran(LAW, AT_REST | {"shaft_speed": 0.2, "net_spring_force": 1200.0})["compression"].max() == 0.0


def test_a_shaft_that_hardly_moves_is_asked_for_nothing(ran: Ran) -> None:
    """Hanging long, the weight pulls more than the spring holds; that must not hold the body up there."""
    hanging = AT_REST | {"shaft_travel": 0.02, "net_spring_force": -2500.0}
    asked = [ran(LAW, hanging | {"shaft_speed": speed})["compression"][0, 0] for speed in (-1.0, 0.0, 0.01, 0.2)]
    assert asked[:2] == [0.0, 0.0]
    assert asked[2] < 1.0
    slow = ran(LAW, AT_REST | {"shaft_travel": 0.02, "shaft_speed": 0.2})["compression"][0, 0]
    assert asked[3] == pytest.approx(2.0 * slow)


def blow(speed: float) -> dict[str, Any]:
    """Ten ticks of closing, then at rest in deep travel with 2 kN of net spring force."""
    return {"shaft_travel": 0.18, "shaft_speed": np.repeat([speed, 0.0], [10, 290]), "net_spring_force": 2000.0}


def test_the_rebound_floor_outlives_the_blow_and_goes_as_a_ramp(ran: Ran) -> None:
    floor = ran(EndStop(kick_share=0.6, kick_for=0.2, kick_release=0.1, kick_force=1000.0), blow(2.0), 300)["rebound"][0]
    assert floor[:110] == pytest.approx(1200.0)  # from the blow on, and 100 ticks after it
    assert floor[134] == pytest.approx(600.0)  # half way down the ramp of 50 ticks
    assert floor[160:].max() == 0.0
    assert (np.diff(floor) <= 0.0).all()


def test_no_floor_after_a_mere_bump(ran: Ran) -> None:
    assert ran(EndStop(kick_force=1000.0), blow(0.3), 300)["rebound"].max() == 0.0


def test_the_floor_follows_the_spring_and_never_pushes(ran: Ran) -> None:
    """Back at ride height there is nothing left to hold."""
    spring = np.linspace(2000.0, -1000.0, 110)
    values = {"shaft_travel": 0.18, "shaft_speed": np.repeat([2.5, -0.1], [10, 100]), "net_spring_force": spring}
    floor = ran(EndStop(kick_share=0.5, droop_share=0.0), values, 110)["rebound"][0]
    np.testing.assert_allclose(floor, 0.5 * np.maximum(spring, 0.0), atol=1e-9)

"""Net spring force in closed form."""

from __future__ import annotations

from typing import Any

import pytest

from tests.strategies.estimators.lane import plug_in, run, spread


def net(travel: float, offset: float = 0.0, **values: Any) -> float:
    """Front-left net spring force. [N]"""
    plain = {"spring_rate": 30e3, "spring_contact": 0.02, "gas_rate": 0.0, "static_travel": 0.1}
    given = spread(1, shaft_travel=[travel] * 4, ride_height_offset=[offset] * 4)
    return float(run(plug_in("SpringForce", **{**plain, **values}), given)["net_spring_force"][0, 0, 0])


@pytest.mark.validates("Hooke: rate times the way from ride height; + pushes the body up")
def test_a_plain_spring() -> None:
    assert net(0.15) == pytest.approx(1500.0)
    assert net(0.1) == 0.0
    assert net(0.05) == pytest.approx(-1500.0)


@pytest.mark.validates("closed form: slack below its contact, only the weight it carried is missing; preload reaches below 0")
def test_a_slack_spring() -> None:
    assert net(0.0) == net(0.02) == pytest.approx(-2400.0)
    assert net(0.0, spring_contact=-0.02) == pytest.approx(-3000.0)


@pytest.mark.validates("closed form: k x + p x^2 / 2 from the contact on, a second spring from its own, and the gas")
def test_progression_second_spring_and_gas() -> None:
    assert net(0.15, progression=2e5) == pytest.approx(1500.0 + 1e5 * (0.13**2 - 0.08**2))
    assert net(0.19, second_rate=8e3, second_contact=0.17) == pytest.approx(2700.0 + 160.0)
    assert net(0.15, gas_rate=400.0) == pytest.approx(1520.0)


@pytest.mark.validates(
    "statics: with more load the car stands lower, and at its new ride height the spring has no more to give than the weight"
)
def test_ride_height_is_followed() -> None:
    assert net(0.115, offset=0.015) == pytest.approx(0.0)
    assert net(0.115, offset=0.015, follow_ride_height=0.0) == pytest.approx(450.0)
    assert net(0.165, offset=0.015) == pytest.approx(1500.0)

"""LandingOverride: its stages in time and by corner, what severity and speed change, what stands when the state closes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from dualduty.lookup import Curve
from strategies.laws.landing_override import LandingOverride

Ran = Callable[..., Any]
DT = 0.002


def after(*times: float) -> Curve:
    """Settling time over 0 and 20 m/s."""
    return Curve(np.array([0.0, 20.0]), np.array(times))


LAW = LandingOverride(
    compression=0.8, follow_severity=0.5, firm_for=0.2, release=0.1, settled_compression=0.3, touchdown_rebound=0.2,
    settling_rebound=0.7, settling_after=after(0.1, 0.1), blend=0.05, hang_travel=0.0, down_margin=0.02,
)  # fmt: skip


def landing(ticks: int = 400, begin: int = 100, end: int = 400, **values: Any) -> dict[str, Any]:
    """A severe landing at 10 m/s with all corners down, open from `begin` to `end`."""
    open_ = np.zeros(ticks)
    open_[begin:end] = 1.0
    return {"landing": open_, "landing_severity": 1.0, "vehicle_speed": 10.0, "wheel_off": 0.0, "shaft_travel": 0.1} | values


def test_compression_first_then_rebound_then_let_go(ran: Ran) -> None:
    duty = ran(LAW, landing(), 400)
    compression, rebound = duty["compression"][0], duty["rebound"][0]
    assert (compression[100:201] == 0.8).all()
    assert (rebound[100:151] == 0.2).all()  # 50 ticks of 2 ms
    assert rebound[163] == pytest.approx(0.2 + 0.5 * 13 / 25)  # on its way, 25 ticks long
    np.testing.assert_allclose(rebound[175:], 0.7, rtol=1e-12)  # rounding
    assert compression[225] == pytest.approx(0.8 - 0.5 * 25 / 50)
    np.testing.assert_allclose(compression[250:], 0.3, rtol=1e-12)


def test_no_step_larger_than_its_ramps(ran: Ran) -> None:
    duty = ran(LAW, landing(), 400)
    assert np.abs(np.diff(duty["rebound"][0, 100:])).max() == pytest.approx(0.5 / 25)
    assert np.abs(np.diff(duty["compression"][0, 100:])).max() == pytest.approx(0.5 / 50)


def test_an_axle_that_lands_later_settles_later(ran: Ran) -> None:
    travel = np.full((4, 400), 0.1)
    travel[2:, :140] = 0.01
    rebound = ran(LAW, landing(shaft_travel=travel), 400)["rebound"]
    first = [int(np.argmax(rebound[corner, 100:] > 0.2)) for corner in range(4)]
    assert first == [51, 51, 91, 91]


def test_a_corner_that_flies_again_starts_over(ran: Ran) -> None:
    off = np.zeros((4, 400))
    off[0, 180:200] = 1.0
    rebound = ran(LAW, landing(wheel_off=off), 400)["rebound"]
    assert (rebound[0, 180:250] == 0.2).all()  # 50 ticks from touching again, the first of them being no time yet
    np.testing.assert_allclose(rebound[0, 275:], 0.7, rtol=1e-12)
    np.testing.assert_allclose(rebound[1, 180:], 0.7, rtol=1e-12)


@pytest.mark.parametrize(("severity", "expected"), [(0.0, 0.4), (0.5, 0.6), (1.0, 0.8), (7.0, 0.8)])
def test_compression_by_severity(ran: Ran, severity: float, expected: float) -> None:
    assert ran(LAW, landing(landing_severity=severity), 400)["compression"][0, 150] == pytest.approx(expected)


def test_the_largest_severity_of_this_landing_counts(ran: Ran) -> None:
    severity = np.concatenate([np.full(50, 1.0), np.full(60, 0.2), np.full(20, 0.6), np.full(270, 0.1)])
    compression = ran(LAW, landing(landing_severity=severity), 400)["compression"][0]
    assert compression[105] == pytest.approx(0.48)  # 0.2; what was before the landing is forgotten
    assert compression[115:200] == pytest.approx(0.64)  # 0.6 from then on


def test_settling_later_at_walking_pace_by_the_speed_of_touchdown(ran: Ran) -> None:
    law = LandingOverride(settling_after=after(0.2, 0.1), touchdown_rebound=0.2, hang_travel=0.0)
    speed = np.repeat([0.0, 20.0], [101, 299])  # what the speed does later doesn't matter
    slow = ran(law, landing(vehicle_speed=speed), 400)["rebound"][0]
    fast = ran(law, landing(vehicle_speed=20.0), 400)["rebound"][0]
    assert int(np.argmax(slow[100:] > 0.2)) == 101
    assert int(np.argmax(fast[100:] > 0.2)) == 51


def test_stages_stand_when_the_state_closes_and_a_second_landing_starts_anew(ran: Ran) -> None:
    values = landing(1400, 100, 300)
    values["landing"][1200:] = 1.0
    duty = ran(LAW, values, 1400)
    np.testing.assert_allclose(duty["rebound"][0, 300:1200], 0.7, rtol=1e-12)
    np.testing.assert_allclose(duty["compression"][0, 300:1200], 0.3, rtol=1e-12)
    assert (duty["rebound"][0, 1200:1251] == 0.2).all()
    assert (duty["compression"][0, 1200:1301] == 0.8).all()


def test_a_second_landing_has_its_own_severity(ran: Ran) -> None:
    values = landing(1400, 100, 300, landing_severity=np.repeat([1.0, 0.0], [700, 700]))
    values["landing"][1200:] = 1.0
    compression = ran(LAW, values, 1400)["compression"][0]
    assert compression[150] == pytest.approx(0.8)
    assert compression[1250] == pytest.approx(0.4)


def test_a_shaft_that_comes_back_to_hang_with_its_wheel_down_goes_on_settling(ran: Ran) -> None:
    travel = np.concatenate([np.full(120, 0.1), np.full(280, 0.0)])
    np.testing.assert_allclose(ran(LAW, landing(shaft_travel=travel), 400)["rebound"][0, 175:], 0.7, rtol=1e-12)


def test_a_state_that_closes_early_keeps_its_stage(ran: Ran) -> None:
    duty = ran(LAW, landing(400, 100, 130), 400)
    assert (duty["rebound"][0, 130:] == 0.2).all()
    assert (duty["compression"][0, 130:] == 0.8).all()


def test_light_landings_are_not_made_firmer_by_letting_go(ran: Ran) -> None:
    law = LandingOverride(compression=0.5, follow_severity=1.0, settled_compression=0.4)
    compression = ran(law, landing(landing_severity=0.2), 400)["compression"][0, 100:]
    assert compression == pytest.approx(0.1)

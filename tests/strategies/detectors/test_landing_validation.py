"""Landing against free fall and the plant's truth."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.units import STANDARD_GRAVITY as G
from tests.strategies.detectors.flights import DT, Flights, runs
from tests.strategies.detectors.test_landing import END, START, flight, landed

ARMS = np.array([1.32, 1.32, -1.08, -1.08])  # m


@pytest.mark.validates("free fall: v = g t, and v^2 = 2 g h of the height fallen through")
def test_a_drop_without_lift() -> None:
    speed = landed(**flight(), values={"level_share": 0.0})["landing_speed"][0]
    time = (END - START) * DT
    assert speed[END - 1] == pytest.approx(G * time, rel=1e-9)
    height = float(np.sum(speed[START:END])) * DT - 0.5 * G * time * DT  # trapezoids of a straight line are exact
    assert speed[END - 1] ** 2 == pytest.approx(2.0 * G * height, rel=1e-9)


@pytest.mark.validates("free fall: thrown up at v and caught level, it comes back at v after t = 2 v / g")
def test_a_level_flight_lands_as_fast_as_it_took_off() -> None:
    lift, push = 2.0, 0.04  # m/s, s
    inputs = flight((START, START + round(2 * lift / G / DT)))
    inputs["specific_force_z"][0, START - round(push / DT) : START] += lift / push
    last = START + round(2 * lift / G / DT) - 1
    speed = landed(**inputs, values={"level_share": 0.0, "leak_hz": 0.01})["landing_speed"][0]
    assert speed[last] == pytest.approx(lift, abs=0.02)  # a tick is 0.02 m/s
    assert speed[START + 50] == 0.0  # still rising
    floor = landed(**inputs, values={"level_share": 1.0, "told_late": 0.0})["landing_speed"][0]
    assert floor[last] == pytest.approx(lift, abs=0.05)  # g t / 2


@pytest.mark.validates("plant truth: fall of the body over the axle that falls faster, at the first touch of a wheel")
@pytest.mark.parametrize("lost", [False, True])
def test_landing_speed_is_known_before_touchdown(flights: Flights, lost: bool) -> None:
    ahead, at = [], []
    for case in flights.jumps(lost=lost):
        for _, last in flights.flown(case, 0.12):
            over = flights.truth("heave", case) - ARMS[:, None] * flights.truth("pitch", case)
            fall = float((over[:, last - 6] - over[:, last - 1]).max()) / (5 * DT)
            said = flights.quantity("landing_speed", case)
            at.append(said[last - 1] - fall)
            ahead.append(said[last - 15] - fall)
    assert len(at) == 4
    # over 175 landings of the library and faster variants: +0.26 +- 0.16 m/s at touchdown, -0.01 +- 0.16 m/s 30 ms before it
    assert np.abs(np.array(at) - 0.26).max() <= 0.5
    assert np.abs(ahead).max() <= 0.5


@pytest.mark.validates("plant truth: the first wheel load after flight is touchdown; nothing else is a landing")
@pytest.mark.parametrize("lost", [False, True])
def test_every_landing_opens_soon_after_touchdown_and_nothing_else_does(flights: Flights, lost: bool) -> None:
    for case in flights.jumps(lost=lost):
        starts = [start for start, _ in runs(flights.state("landing", case))]
        touchdowns = [last for _, last in flights.flown(case, 0.12)]
        assert len(starts) == len(touchdowns) == 1
        assert 0.0 < (starts[0] - touchdowns[0]) * DT <= 0.04  # measured 14 to 32 ms: 1.5 ms of delay and what a tyre takes to push
    for case in flights.grounded():
        assert not flights.state("landing", case).any()


@pytest.mark.validates("plant truth: time without any wheel load")
def test_air_time(flights: Flights) -> None:
    for case in flights.jumps(lost=False):
        for first, last in flights.flown(case, 0.12):
            said = flights.quantity("air_time", case)[last - 1]
            assert said == pytest.approx((last - first) * DT, abs=0.015)  # measured within 8 ms

"""The margin by which a landing duty is reached before touchdown, on drives made by hand."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.study.drives import Drive
from dualduty.study.touchdown import Preparing, Touchdown, margin, touchdowns
from dualduty.trace import Case

DT = 0.002
TICKS = 500
TAKE_OFF, TOUCH = 100, 250
BASE, FLIGHT, LANDING = 0, 1, 2
LAYERS = Preparing(flight=(FLIGHT,), landing=(LANDING,))


def flown(reached_from: int, commanded_from: int, *, landing: bool = False, layer: int = FLIGHT) -> Touchdown:
    """One flight; the layer commands 0.7 from one tick on, the valves hold it from another on, at all corners."""
    load = np.full((4, TICKS), 2000.0)
    load[:, TAKE_OFF:TOUCH] = 0.0
    duty, reached, decided = np.full((4, TICKS), 0.1), np.full((4, TICKS), 0.1), np.full((4, TICKS), BASE, np.int16)
    duty[:, commanded_from:] = 0.7
    decided[:, commanded_from:] = layer
    if landing:
        duty[:, TOUCH + 10 :], decided[:, TOUCH + 10 :] = 0.9, LANDING
    reached[:, reached_from:] = 0.69
    states = {"landing": np.zeros((1, TICKS), np.bool_)}
    states["landing"][0, TOUCH + 15 :] = True
    drive = Drive(
        Case("made", "by hand", "dash"), DT, states, {"wheel_load": load, "reached_compression": reached, "reached_rebound": reached},
        {"compression": duty, "rebound": duty}, {"compression": decided, "rebound": decided}, np.zeros((1, TICKS)), 0,
    )  # fmt: skip
    (one,) = touchdowns(drive, LAYERS)
    return one


def test_before_touchdown_is_positive() -> None:
    one = flown(reached_from=200, commanded_from=150)
    assert one.air_time == pytest.approx((TOUCH - TAKE_OFF) * DT)
    assert one.compression == pytest.approx(0.1)
    assert one.rebound == pytest.approx(0.1)
    assert one.landing_after == pytest.approx(0.03)


def test_after_touchdown_is_negative() -> None:
    assert flown(reached_from=270, commanded_from=240).compression == pytest.approx(-0.04)


def test_what_the_landing_asks_for_counts_more_than_what_flight_does() -> None:
    assert flown(reached_from=200, commanded_from=150, landing=True).compression < 0  # 0.9 is never reached


def test_a_corner_that_no_layer_of_flight_or_landing_decided_is_not_prepared() -> None:
    one = flown(reached_from=0, commanded_from=0, layer=BASE)
    assert not one.prepared


def test_a_duty_lost_again_before_touchdown_counts_from_its_return() -> None:
    reached = np.array([0.0, 1.0, 0.0, 1.0, 1.0, 1.0])
    assert margin(reached, 0.5, 5) == 2.0
    assert margin(reached, 0.5, 2) == -1.0
    assert margin(np.zeros(6), 0.5, 2) == -4.0  # never: at least as late as one looked

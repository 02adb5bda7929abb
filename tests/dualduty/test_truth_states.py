"""Truth of states, on made-up runs whose events are known by construction."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.trace import Case, Header, TraceChunk
from dualduty.true_ground import Stretch, stretches_of
from dualduty.truth_states import BY_CORNER, truth_by_corner, truth_intervals, unsure_intervals
from dualduty.units import STANDARD_GRAVITY

Array = NDArray[np.float64]
DT, FINE = 0.002, 2
TIME = np.arange(3000) * DT  # six seconds
HEADER = Header("simulated", DT, (Case("made up", "none", "dash"),), ("dash",), (), (), truth_dt=DT / FINE)
EDGE = 0.5 * DT  # an interval begins and ends on a tick


@dataclass
class Run:
    """A drive straight on over level ground at 10 m/s, unless changed."""

    load: Array = field(default_factory=lambda: np.full((4, TIME.size), 2000.0))
    speed: Array = field(default_factory=lambda: np.full(TIME.size, 10.0))
    yaw_rate: Array = field(default_factory=lambda: np.zeros(TIME.size))
    brake: Array = field(default_factory=lambda: np.zeros(TIME.size))
    throttle: Array = field(default_factory=lambda: np.zeros(TIME.size))
    ground: Array = field(default_factory=lambda: np.zeros((4, TIME.size)))
    stop: Array = field(default_factory=lambda: np.zeros((4, TIME.size)))

    def whole(self) -> TraceChunk:
        """As a trace's chunk, one case."""
        distance = np.cumsum(self.speed) * DT
        truth = {"wheel_load": self.load, "speed": self.speed, "ground_height": self.ground, "stop_force": self.stop, "distance": distance}
        signals = {"yaw_rate": self.yaw_rate, "brake": self.brake, "throttle": self.throttle}
        none: dict[str, Any] = {}
        return TraceChunk(
            0, {name: np.atleast_2d(row)[:, :, None] for name, row in signals.items()}, none, none, none, none, none, none, none, none,
            mode=np.zeros((1, TIME.size, 1), np.int16), running=np.ones((1, TIME.size, 1)),
            truth={name: np.repeat(np.atleast_2d(row), FINE, axis=1)[:, :, None] for name, row in truth.items()},
        )  # fmt: skip

    def true(self, **more: Any) -> dict[str, list[tuple[float, float]]]:
        """Its truth."""
        return truth_intervals(self.whole(), HEADER, **more)


def during(start: float, end: float) -> NDArray[np.bool_]:
    return np.asarray((start - EDGE < TIME) & (end - EDGE > TIME))


def test_nothing_happens_on_a_level_straight() -> None:
    found = {name for name, intervals in Run().true().items() if intervals}
    assert found == {"smooth_ground"}


def test_flight_landing_and_a_hop() -> None:
    run = Run()
    run.load[:, during(1.0, 1.4)] = 0.0
    run.load[:, during(3.0, 3.05)] = 0.0  # a hop
    run.load[:3, during(4.0, 4.5)] = 0.0  # three wheels are no flight
    found = run.true()
    np.testing.assert_allclose(found["airborne"], [(1.0, 1.4)], atol=EDGE)
    np.testing.assert_allclose(found["landing"], [(1.4, 1.85)], atol=EDGE)
    assert found["airborne_likely"] == found["airborne"]
    unsure = unsure_intervals(run.whole(), HEADER)
    np.testing.assert_allclose(unsure["airborne"], [(3.0, 3.05)], atol=EDGE)
    np.testing.assert_allclose(unsure["landing"], [(3.05, 3.5)], atol=EDGE)
    off = truth_by_corner(run.whole(), HEADER)["wheel_off"]
    assert [len(corner) for corner in off] == [2, 2, 2, 1]


def test_a_flight_that_never_ends_has_no_landing() -> None:
    run = Run()
    run.load[:, during(5.0, 7.0)] = 0.0
    assert run.true()["landing"] == []


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_corner_and_its_sides(side: float) -> None:
    run = Run()
    run.yaw_rate[during(2.0, 4.0)] = side * 0.03 * STANDARD_GRAVITY  # 0.3 g at 10 m/s
    run.yaw_rate[1000] = np.nan  # a sample that never came
    ((start, end),) = run.true()["cornering"]
    # the centred mean over 0.2 s passes 0.25 g of 0.3 g after 5/6 of its length, 67 ms after its middle has come to the edge
    assert (start, end) == pytest.approx((2.0667, 3.9333), abs=2 * DT)
    by_corner = truth_by_corner(run.whole(), HEADER)
    outer = [1, 3] if side > 0 else [0, 2]
    assert [corner for corner in range(4) if by_corner["cornering_outer"][corner]] == outer
    assert [corner for corner in range(4) if by_corner["cornering_inner"][corner]] == [corner for corner in range(4) if corner not in outer]
    assert set(by_corner) == set(BY_CORNER)


def test_braking_by_pedal_with_a_moving_foot() -> None:
    run = Run()
    run.brake[during(1.0, 2.0) | during(2.3, 3.0)] = 0.2
    run.brake[during(4.0, 5.0)] = 0.05  # a foot that rests
    np.testing.assert_allclose(run.true()["braking"], [(1.0, 3.0)], atol=EDGE)


def slowed(start: float, end: float) -> Array:
    return np.asarray(20.0 - 0.4 * STANDARD_GRAVITY * np.clip(TIME - start, 0.0, end - start))


def test_loss_of_speed_counts_on_the_ground_and_not_after_a_landing() -> None:
    run = Run(speed=slowed(2.0, 3.0))
    ((start, end),) = run.true()["braking"]
    assert (start, end) == pytest.approx((2.05, 2.95), abs=2 * DT)  # 0.3 g of 0.4 g: three quarters of the window inside
    run.load[:, during(1.6, 2.0)] = 0.0
    ((start, end),) = run.true()["braking"]
    assert (start, end) == pytest.approx((2.45, 2.95), abs=2 * DT)  # the landing lasts to 2.45 s
    run = Run(speed=slowed(2.0, 2.4))
    run.load[:, during(1.6, 2.0)] = 0.0
    assert run.true()["braking"] == []


def test_accelerating_by_throttle_or_by_gain_of_speed() -> None:
    run = Run(speed=10.0 + 0.3 * STANDARD_GRAVITY * np.clip(TIME - 4.0, 0.0, 1.0))
    run.throttle[during(1.0, 2.0)] = 0.8
    found = run.true()["accelerating"]
    np.testing.assert_allclose(found[0], (1.0, 2.0), atol=EDGE)
    assert found[1] == pytest.approx((4.033, 4.967), abs=2 * DT)  # 0.2 g of 0.3 g


def test_slow_and_standing() -> None:
    run = Run(speed=np.where(TIME < 2.0, 5.0, np.where(TIME < 4.0 - EDGE, 1.0, 0.0)))
    found = run.true()
    np.testing.assert_allclose(found["walking_pace"], [(2.0, 6.0)], atol=EDGE)
    np.testing.assert_allclose(found["standstill"], [(4.0, 6.0)], atol=EDGE)


def test_a_bank_is_a_side_slope_only_while_the_car_does_not_turn() -> None:
    run = Run()
    half = 0.5 * 1.5 * np.tan(np.radians(12.0))
    run.ground[[0, 2]], run.ground[[1, 3]] = -half, half  # right side up
    run.yaw_rate[during(2.0, 4.0)] = 0.05 * STANDARD_GRAVITY
    found = run.true()
    assert [tuple(np.round(interval, 1)) for interval in found["side_slope"]] == [(0.0, 2.0), (4.0, 6.0)]
    upper = truth_by_corner(run.whole(), HEADER)["side_slope_upper"]
    assert [bool(corner) for corner in upper] == [False, True, False, True]


def test_rhythm_is_true_while_both_axles_are_on_it() -> None:
    run = Run()
    found = run.true(kind=(Stretch("whoops", 12.0, 32.0), Stretch("corrugation", 40.0, 50.0)))
    np.testing.assert_allclose(found["whoops"], [(1.44, 3.2)], atol=DT)  # 2.4 m of wheelbase at 10 m/s
    np.testing.assert_allclose(found["corrugation"], [(4.24, 5.0)], atol=DT)
    run.ground[:2, during(2.0, 3.0)] = 0.1
    run.ground[2:, during(2.24, 3.24)] = 0.1
    np.testing.assert_allclose(run.true(kind="whoops")["whoops"], [(2.24, 3.0)], atol=EDGE)
    assert run.true(kind="whoops")["corrugation"] == run.true()["whoops"] == []


def test_stretches_of_a_section() -> None:
    @dataclass
    class Piece:
        pitch: float = 5.0
        count: int = 4
        cycle: float = 8.0
        length: float = 30.0
        wavelength: float = 0.8

    def placed(kind: str, **piece: Any) -> Any:
        return type("Placed", (), {"kind": kind, "start": 10.0, "piece": Piece(**piece)})

    ground = [placed("whoops"), placed("double_whoops"), placed("corrugation"), placed("corrugation", wavelength=4.0), placed("berm")]
    found = stretches_of(type("Section", (), {"ground": ground}))
    assert found == (Stretch("whoops", 10.0, 30.0), Stretch("double_whoops", 10.0, 42.0), Stretch("corrugation", 10.0, 40.0))


def test_a_stop_is_approached_before_it_is_touched() -> None:
    run = Run()
    run.stop[3, during(2.0, 2.1)] = 500.0
    run.stop[0, during(3.0, 3.1)] = -500.0
    found = truth_by_corner(run.whole(), HEADER)
    np.testing.assert_allclose(found["bump_approach"][3], [(1.94, 2.1)], atol=EDGE)
    np.testing.assert_allclose(found["droop_approach"][0], [(2.94, 3.1)], atol=EDGE)
    assert [len(corner) for corner in found["bump_approach"]] == [0, 0, 0, 1]


def test_what_was_padded_does_not_count() -> None:
    whole = Run().whole()
    whole.running[0, 1000:, 0] = 0.0
    ((start, end),) = truth_intervals(whole, HEADER)["smooth_ground"]
    assert (start, end) == pytest.approx((0.0, 2.0), abs=EDGE)

"""Time, energy and heat of a damper against motions and maps whose integrals are known."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.damper_map import DamperMap
from replay.damper_life import RANGES, SPEED_EDGES, TRAVEL_EDGES, CornerFold, Dampers

SOFT, FIRM = 800.0, 4000.0  # N·s/m at duty 0 and 1
STEP = 0.001


def linear(slope_soft: float = SOFT, slope_firm: float = FIRM, fastest: float = 5.0) -> DamperMap:
    """A map whose force is a slope times the speed, the slope straight between duty 0 and 1."""
    speeds = np.array([0.0, 1.0, fastest])
    return DamperMap(speeds, np.array([0.0, 1.0]), np.column_stack([slope_soft * speeds, slope_firm * speeds]))


def dampers(**more: object) -> Dampers:
    """Four equal dampers, linear on both sides, rebound twice as firm."""
    return Dampers({"compression": (linear(),) * 4, "rebound": (linear(2 * SOFT, 2 * FIRM),) * 4}, **more)  # type: ignore[arg-type]


def sine(amplitude: float, hz: float, cycles: int) -> tuple[np.ndarray, np.ndarray]:
    """Travel and speed over whole cycles, sampled at the middles of steps."""
    time = (np.arange(round(cycles / hz / STEP)) + 0.5) * STEP
    turns = 2 * np.pi * hz
    return 0.1 + amplitude * np.sin(turns * time), amplitude * turns * np.cos(turns * time)


@pytest.mark.validates("closed form: a linear damper takes pi c w A^2 a cycle, half of it on either side")
@pytest.mark.parametrize("duty", [(0.0, 0.0), (0.25, 0.75), (1.0, 0.5)])
def test_energy_of_a_linear_damper(duty: tuple[float, float]) -> None:
    amplitude, hz, cycles = 0.03, 2.0, 10
    travel, speed = sine(amplitude, hz, cycles)
    fold = CornerFold(0, dampers())
    duties = np.repeat(np.array(duty)[:, None], len(speed), axis=1)
    fold.take((travel, speed), duties, STEP)
    life = fold.result()
    slope = np.array([SOFT + duty[0] * (FIRM - SOFT), 2 * (SOFT + duty[1] * (FIRM - SOFT))])
    a_cycle = np.pi * slope * 2 * np.pi * hz * amplitude**2
    np.testing.assert_allclose(life.energy, 0.5 * a_cycle * cycles, rtol=1e-6)  # equal steps over whole cycles: exact for a squared sine
    np.testing.assert_allclose(life.power, life.energy / (cycles / hz), rtol=1e-9)
    assert life.seconds == pytest.approx(cycles / hz)
    np.testing.assert_allclose(life.moving, 0.5 * cycles / hz)
    assert [life.duty_at(side, 0.5) for side in (0, 1)] == pytest.approx(list(duty), abs=0.02)


@pytest.mark.validates("closed form: the time a sine spends below a share of its peak speed is 2/pi arcsin(share)")
def test_time_by_range_of_speed_is_the_arcsine_law() -> None:
    amplitude, hz = 0.25, 2.0  # peak 3.14 m/s
    travel, speed = sine(amplitude, hz, 50)
    fold = CornerFold(1, dampers())
    fold.take((travel, speed), np.zeros((2, len(speed))), STEP)
    life = fold.result()
    peak = amplitude * 2 * np.pi * hz
    below = 2 / np.pi * np.arcsin(np.minimum(np.array([0.0, *RANGES, np.inf]) / peak, 1.0))
    expected = np.diff(below)
    for side in (0, 1):
        np.testing.assert_allclose(2.0 * life.ranges[side] / life.seconds, expected, atol=0.008)  # 500 samples a cycle: grains of 0.004
    np.testing.assert_allclose(life.fastest, peak, rtol=1e-4)
    edges = np.clip(SPEED_EDGES / peak, -1.0, 1.0)
    density = np.diff(np.arcsin(edges)) / np.pi
    np.testing.assert_allclose(life.speed / life.seconds, density, atol=0.009)
    travels = np.diff(np.arcsin(np.clip((TRAVEL_EDGES - 0.1) / amplitude, -1.0, 1.0))) / np.pi
    inside = slice(20, -20)
    np.testing.assert_allclose((life.travel / life.seconds)[inside], travels[inside], atol=0.009)


@pytest.mark.validates("closed form: every count adds up to the time there was")
def test_every_count_adds_up_and_what_is_unknown_is_left_out() -> None:
    travel, speed = sine(0.12, 5.0, 20)  # peak 3.8 m/s
    speed[:100], travel[:100] = np.nan, np.nan
    duties = np.full((2, len(speed)), 0.4)
    duties[:, 2000:] = np.nan
    fold = CornerFold(2, Dampers({"compression": (linear(fastest=2.0),) * 4, "rebound": (linear(),) * 4}))
    fold.take((travel[:1500], speed[:1500]), duties[:, :1500], STEP)
    fold.take((travel[1500:], speed[1500:]), duties[:, 1500:], STEP)
    life = fold.result()
    seconds = (len(speed) - 100) * STEP
    for total in (life.seconds, life.moving.sum(), life.ranges.sum(), life.speed.sum(), life.travel.sum()):
        assert total == pytest.approx(seconds)
    assert life.known.sum() == pytest.approx(1.9)
    assert life.speed_force.sum() == pytest.approx(1.9)
    assert life.beyond[0] == pytest.approx(STEP * np.count_nonzero(speed > 2.0))
    assert life.beyond[1] == 0.0


@pytest.mark.validates("closed form: a zone multiplies the force of its side alone")
def test_zones_multiply_and_signs_follow_the_motion() -> None:
    zone = (np.array([0.1, 0.2]), np.array([1.0, 3.0]))
    force = dampers(zones={"compression": (zone,) * 4}).force
    speed, travel = np.array([1.0, 1.0, -1.0, 0.0]), np.array([0.0, 0.15, 0.15, 0.15])
    told = force(3, travel, speed, np.zeros((2, 4)))
    np.testing.assert_allclose(told, [SOFT, 2 * SOFT, -2 * SOFT, 0.0])
    assert np.isnan(force(3, travel, speed, np.full((2, 4), np.nan))[:3]).all()


@pytest.mark.validates("law of nature: a damper only takes energy")
def test_a_damper_gives_nothing_back() -> None:
    random = np.random.default_rng(4)
    speed = random.normal(0.0, 1.5, 5000)
    fold = CornerFold(0, dampers())
    fold.take((random.uniform(0.0, 0.28, 5000), speed), random.uniform(0.0, 1.0, (2, 5000)), STEP)
    life = fold.result()
    assert (life.energy > 0.0).all()
    first, second = np.nonzero(life.speed_force)
    force, middle = life.speed_force.shape[1] // 2, life.speed_force.shape[0] // 2
    assert (((first >= middle) & (second >= force)) | ((first < middle) & (second < force))).all()

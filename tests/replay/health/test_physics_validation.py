"""The signs and sizes that the health of a log stands on, against statics of a body, rounding theory and a plain regression."""

from __future__ import annotations

from itertools import permutations, product

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.units import STANDARD_GRAVITY
from replay.health.motion import correlation, explained
from replay.health.quantisation import speed_of_steps
from replay.health.travel_identity import EXPECTED, identify_travels
from replay.health.witnesses import witnesses
from tests.replay.health.hand_made_parts import HandMade, altered, row

Array = NDArray[np.float64]
MASS, HEIGHT, WHEELBASE, TRACK, RATE = 900.0, 0.6, 2.4, 1.5, 30e3  # kg, m, m, m, N/m at the shaft
ARM = np.array([1.2, 1.2, -1.2, -1.2])  # m ahead of the centre of gravity
SIDE = np.array([0.75, -0.75, 0.75, -0.75])  # m left of it


def statics(forward: Array, left: Array, up: Array) -> Array:
    """Travel of four equal springs under a body that is accelerated, (4, time): balance of force and of both moments. [m]

    Specific force (forward, left, up) acts at the height of the centre of gravity; the ground answers at the wheels.
    """
    load = MASS * up / 4.0
    # moment about the lateral axis: accelerating forward loads the rear; about the longitudinal: turning left loads the right
    pitch = -MASS * forward * HEIGHT * ARM[:, None] / (ARM**2).sum()
    roll = -MASS * left * HEIGHT * SIDE[:, None] / (SIDE**2).sum()
    return np.asarray((load + pitch + roll) / RATE)


@pytest.mark.validates("balance of force and moments of a rigid body on four equal springs, axes of ISO 8855:2011; closed form in the test")
def test_the_expected_signs_are_those_of_statics() -> None:
    one = np.array([1.0])
    nought = np.zeros(1)
    base = statics(nought, nought, nought)
    for at, pull in enumerate(((nought, one, nought), (one, nought, nought), (nought, nought, one))):
        np.testing.assert_array_equal(np.sign(statics(*pull) - base)[:, 0], EXPECTED[:, at])


@pytest.mark.validates("balance of force and moments of a rigid body on four equal springs, axes of ISO 8855:2011; closed form in the test")
@pytest.mark.parametrize("every", [47, pytest.param(1, marks=pytest.mark.slow)])
def test_every_assignment_of_four_channels_is_told_apart(every: int) -> None:
    random = np.random.default_rng(8)
    time = np.arange(0.0, 240.0, 0.02)
    knots = np.arange(0.0, 242.0, 1.7)
    turn, push, heave = (np.interp(time, knots, random.normal(0.0, 1.5, len(knots))) for _ in range(3))
    speed = 12.0 + np.cumsum(push - push.mean()) * 0.02 * 0.3
    push = np.gradient(speed, 0.02)
    travels = statics(push, turn, STANDARD_GRAVITY + heave) + random.normal(0.0, 1e-3, (4, len(time)))
    body = {
        "specific_force_x": push, "specific_force_y": turn, "specific_force_z": STANDARD_GRAVITY + heave, "yaw_rate": turn / speed,
        "steer_angle": np.arctan(2.5 * turn / speed**2), "wheel_speed": np.tile(speed, (4, 1)),
    }  # fmt: skip
    motion = HandMade((time, body | {"shaft_travel": travels})).slow()
    seen = witnesses(motion)
    wrong = []
    for corner, sign in list(product(permutations(range(4)), product((1.0, -1.0), repeat=4)))[::every]:
        mixed = {row("shaft_travel", channel): sign[channel] * motion.corners("shaft_travel")[corner[channel]] for channel in range(4)}
        found = identify_travels(altered(motion, mixed), seen)
        assert found is not None
        if (found.corner, found.sign) != (corner, sign) or found.sure < 0.9:
            wrong.append((corner, sign, found.corner, found.sign, found.sure))
    assert wrong == []


@pytest.mark.validates("B. Widrow, A study of rough amplitude quantization, IRE Trans. Circuit Theory 3 (1956): q²/12; lag in closed form")
@pytest.mark.parametrize("rate", [100.0, 200.0, 1000.0])
def test_shaft_speed_made_of_rounding_alone(rate: float) -> None:
    random = np.random.default_rng(1)
    step, corner, samples = 1e-3, 30.0, 400_000
    true = np.cumsum(random.normal(0.0, 3e-3, samples))  # moves by several steps a sample, so that the errors are independent
    error = np.round(true / step) * step - true
    share = 1.0 - np.exp(-2.0 * np.pi * corner / rate)
    from scipy.signal import lfilter

    made = lfilter([share * rate, -share * rate], [1.0, share - 1.0], error)
    # 400,000 samples of a variance: 0.3 %; measured 0.2 % off at the most
    assert float(np.std(made)) == pytest.approx(speed_of_steps(step, rate, corner), rel=0.01)


@pytest.mark.validates("Gaussian regression: the likelihood ratio of a line is (1 - r²)^(-n/2); closed form in the test")
def test_what_a_line_explains_is_the_likelihood_ratio() -> None:
    random = np.random.default_rng(2)
    x = random.normal(size=2000)
    y = 0.4 * x + random.normal(size=2000)
    r, _ = correlation(x, y, np.ones(2000, dtype=bool))
    slope, start = np.polyfit(x, y, 1)
    ratio = -0.5 * 2000 * np.log(np.var(y - slope * x - start) / np.var(y))
    assert explained((r, 2000.0)) == pytest.approx(float(ratio), rel=1e-9)
    assert explained((-r, 2000.0)) == 0.0

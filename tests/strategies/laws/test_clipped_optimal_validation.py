"""Clipped optimal control: its gain, what a one-step predictive controller would do, and what clipping keeps."""

from __future__ import annotations

from typing import Any, Final

import control
import numpy as np
import pytest

from dualduty.contract import Chunk
from dualduty.memory import Memory
from strategies.laws.clipped_optimal import ClippedOptimal
from tests.strategies.laws.plain_laws import passive
from tests.strategies.laws.quarter_car import SET_A, SET_B, Array, Bench, Corner, Drive, Lines, by_case
from tests.strategies.laws.quarter_car_steps import GRAVITY, STATIC_TRAVEL

DT: Final = 0.001
TRAVEL, TYRE = np.array([1e2, 1e3, 1e4]), np.array([1e3, 1e4, 1e5])  # weights of travel and tyre deflection, comfort to grip. 1/s⁴
CORNERS: Final = pytest.mark.parametrize("corner", [SET_A, SET_B], ids=["A", "B"])


def law_for(corner: Corner, travel: Any, tyre: Any, ratio: float = 1.0) -> Any:
    """The law with a corner's numbers and weights."""
    by_weight: dict[str, Any] = {"equal_travel": np.asarray(travel) ** -0.5, "equal_tyre": np.asarray(tyre) ** -0.5}
    return ClippedOptimal(
        **by_weight, wheel_rate=corner.spring, tyre_rate=corner.tyre,
        static_wheel_load=(corner.sprung + corner.unsprung) * GRAVITY, unsprung_mass=corner.unsprung, static_travel=STATIC_TRAVEL,
        motion_ratio=ratio,
    )  # fmt: skip


def asked(law: Any, corner: Corner, states: Array, ratio: float = 1.0) -> tuple[Array, Array]:
    """Compression and rebound demands at the shaft for states (extension, body speed, tyre deflection, wheel speed), (4, case)."""
    extension, body, deflection, wheel = (row.reshape(1, 1, -1) for row in states)
    load = (corner.sprung + corner.unsprung) * GRAVITY - corner.tyre * deflection
    seen = {"shaft_travel": STATIC_TRAVEL - ratio * extension, "corner_speed": body, "tyre_force": load, "hub_speed": wheel}
    memory = Memory(DT)
    memory.begin()
    demand = law.run(Chunk(DT, seen), memory)
    return demand.compression[0, 0], demand.rebound[0, 0]


def plant(corner: Corner) -> tuple[Array, Array, Array, Array]:
    """A, b of the states' flow under a force on the body, and body acceleration as c x + d u."""
    body = np.array([-corner.spring / corner.sprung, 0.0, 0.0, 0.0])
    wheel = np.array([corner.spring, 0.0, -corner.tyre, 0.0]) / corner.unsprung
    a = np.stack([[0.0, 1.0, 0.0, -1.0], body, [0.0, 0.0, 0.0, 1.0], wheel])
    return a, np.array([[0.0], [1.0 / corner.sprung], [0.0], [-1.0 / corner.unsprung]]), body[None], np.array([[1.0 / corner.sprung]])


def problem(corner: Corner, travel: float, tyre: float) -> tuple[Array, ...]:
    """Sampled A, b, and weights Q, R, N of the sum over steps."""
    a, b, c, d = plant(corner)
    sampled = control.sample_system(control.ss(a, b, c, d), DT, method="zoh")
    return sampled.A, sampled.B, c.T @ c + np.diag([travel, 0.0, tyre, 0.0]), d.T @ d, c.T @ d


@pytest.mark.validates("python-control dlqr of the quarter car sampled by its own c2d")
@CORNERS
@pytest.mark.parametrize("ratio", [1.0, 0.6])
def test_the_gain_is_the_regulators(corner: Corner, ratio: float) -> None:
    """Force on the body at the wheel = shaft force times motion ratio; shaft travel = wheel travel times motion ratio."""
    compression, rebound = asked(law_for(corner, 1e3, 1e4, ratio), corner, 0.01 * np.eye(4), ratio)
    gain, _, _ = control.dlqr(*problem(corner, 1e3, 1e4))
    # measured 7e-13
    np.testing.assert_allclose(-(compression - rebound) * ratio / 0.01, gain[0], rtol=1e-9)


@pytest.mark.validates("Giorgetti, Bemporad, Tseng and Hrovat, Int. J. Control 79 (2006) 521-533, abstract: horizon 1 = clipped LQR")
@CORNERS
def test_clipped_it_is_predictive_control_with_a_horizon_of_one_step(corner: Corner) -> None:
    """2,000 random states: least cost of one step plus the regulator's cost to go, over a fine grid of what the damper can give."""
    random = np.random.default_rng(11)
    states = np.array([[0.05], [0.5], [0.01], [1.0]]) * random.normal(size=(4, 2000))
    a, b, q, r, n = problem(corner, 1e3, 1e4)
    to_go = q
    for _ in range(8000):  # value iteration: no library decides what is optimal here
        cross = b.T @ to_go @ a + n.T
        to_go = q + a.T @ to_go @ a - cross.T @ np.linalg.solve(r + b.T @ to_go @ b, cross)
    speed = states[1] - states[3]
    compression, rebound = asked(law_for(corner, 1e3, 1e4), corner, states)
    given = np.clip(np.where(speed >= 0.0, rebound, compression), corner.soft * np.abs(speed), corner.firm * np.abs(speed))
    force = -np.sign(speed) * given
    shares = np.linspace(0.0, 1.0, 2001)[:, None]
    could = -speed * (corner.soft + shares * (corner.firm - corner.soft))

    def cost(u: Array) -> Array:
        after = np.einsum("ij,jc->ic", a, states)[:, None] + b[:, :, None] * u
        stage = np.einsum("ic,ij,jc->c", states, q, states) + 2.0 * (n[:, 0] @ states) * u + r[0, 0] * u**2
        return np.asarray(stage + np.einsum("igc,ij,jgc->gc", after, to_go, after))

    least, chosen = cost(could).min(axis=0), cost(force[None])[0]
    assert ((given > corner.soft * np.abs(speed)) & (given < corner.firm * np.abs(speed))).mean() > 0.1  # not all clipped
    assert (chosen <= least * (1.0 + 1e-9)).all()  # 0 mismatches of 2,000


@pytest.mark.validates("own result on linear quarter cars, ISO 8608 classes C (A) and D (B), instantaneous valve; no published number")
@pytest.mark.parametrize(("corner", "kept"), [(SET_A, (0.51, 0.78, 1.00)), (SET_B, (0.39, 0.67, 0.93))], ids=["A", "B"])
def test_what_clipping_keeps_grows_from_comfort_to_grip(corner: Corner, kept: tuple[float, ...]) -> None:
    """Share of the gain of the active regulator over the best fixed setting, in the regulator's own cost."""
    lines = Lines.iso(256e-6, 20.0, 1) if corner is SET_A else Lines.iso(1024e-6, 12.0, 1)
    clipped = Bench(corner, 0.0).drive(law_for(corner, by_case(TRAVEL), by_case(TYRE)), lines.ground(3))
    fixed = Bench(corner, 0.0).drive(passive(np.geomspace(corner.soft, corner.firm, 24), corner), lines.ground(24))
    best = np.array([costs(fixed, travel, tyre).min() for travel, tyre in zip(TRAVEL, TYRE, strict=True)])
    active = np.array([active_cost(corner, lines, *weights) for weights in zip(TRAVEL, TYRE, strict=True)])
    share = (best - costs(clipped, TRAVEL, TYRE)) / (best - active)
    np.testing.assert_allclose(share, kept, atol=0.06)  # another ground gave 0.52, 0.80, 0.96 and 0.41, 0.66, 0.88
    assert (np.diff(share) > 0.0).all()


def costs(drive: Drive, travel: Any, tyre: Any) -> Array:
    """Root of the mean cost, by case."""
    squares = [drive.rms(name, 8.0) ** 2 for name in ("acceleration", "extension", "tyre_deflection")]
    return np.asarray(np.sqrt(squares[0] + travel * squares[1] + tyre * squares[2]))


def active_cost(corner: Corner, lines: Lines, travel: float, tyre: float) -> float:
    """The same for a force of any sign, u = -K x, over the lines of the ground."""
    a, b, c, d = plant(corner)
    gain, _, _ = control.dlqr(*problem(corner, travel, tyre))
    closed = a - b @ gain
    outputs = np.concatenate([c - d @ gain, np.sqrt(travel) * np.eye(4)[:1], np.sqrt(tyre) * np.eye(4)[2:3]])

    def response(s: Array) -> Array:
        states = np.linalg.solve(s[:, :, None] * np.eye(4) - closed, np.array([0.0, 0.0, -1.0, 0.0])[:, None])[:, :, 0]
        return np.asarray(s * (states @ outputs.T))  # the ground's rate drives

    return float(np.sqrt(np.sum(lines.rms(response) ** 2)))

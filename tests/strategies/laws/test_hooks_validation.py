"""Groundhook and the hybrid of both hooks."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from dualduty.contract import Chunk
from dualduty.memory import Memory
from strategies.laws.groundhook import Groundhook
from strategies.laws.groundhook_on_off import GroundhookOnOff
from strategies.laws.hybrid_hook import HybridHook
from strategies.laws.skyhook_on_off import SkyhookOnOff
from strategies.laws.skyhook_two_way import SkyhookTwoWay
from tests.strategies.laws.plain_laws import TWO_STATE, hybrid, passive
from tests.strategies.laws.quarter_car import SET_A, Array, Bench, Lines, by_case, sines

GONCALVES = "Goncalves and Ahmadian, Shock and Vibration 10 (2003) 59-69 (formula from memory)"
NUMBERS = {"damping": 2300.0, "dead_speed": 0.04}


def asked(law: Any, body: Array, wheel: Array) -> tuple[Array, Array]:
    """Compression and rebound demands over body and wheel speeds, (4, time, case)."""
    memory = Memory(0.002)
    memory.begin()
    demand = law.run(Chunk(0.002, {"corner_speed": body, "hub_speed": wheel}), memory)
    return demand.compression, demand.rebound


@pytest.fixture(scope="module")
def speeds() -> tuple[Array, Array]:
    """Random speeds of body and wheel. [m/s]"""
    random = np.random.default_rng(5)
    return random.normal(0.0, 0.4, (4, 500, 2)), random.normal(0.0, 1.0, (4, 500, 2))


@pytest.mark.validates(GONCALVES + ": share 1 is skyhook, share 0 is groundhook")
@pytest.mark.parametrize(("share", "limit"), [(1.0, SkyhookTwoWay(**NUMBERS)), (0.0, Groundhook(**NUMBERS))], ids=["skyhook", "groundhook"])
def test_the_hybrids_limits_are_the_two_hooks_to_the_bit(share: float, limit: Any, speeds: tuple[Array, Array]) -> None:
    mixed, pure = asked(HybridHook(sky_share=share, **NUMBERS), *speeds), asked(limit, *speeds)
    assert all(np.array_equal(a, b) for a, b in zip(mixed, pure, strict=True))
    assert all(side.max() > 1000.0 for side in pure)


@pytest.mark.validates("one-valve form, firm where z' v >= 0 or -zt' v >= 0 (from memory), on the side that the stroke opens")
@pytest.mark.parametrize("law", [SkyhookOnOff(dead_speed=0.0), GroundhookOnOff(dead_speed=0.0)], ids=["skyhook", "groundhook"])
def test_the_side_in_use_is_firm_exactly_where_the_one_valve_form_is(law: Any, speeds: tuple[Array, Array]) -> None:
    body, wheel = speeds
    shaft = body - wheel
    compression, rebound = asked(law, body, wheel)
    held = body if isinstance(law, SkyhookOnOff) else -wheel
    firm = np.where(held * shaft >= 0.0, law.firm_rebound, law.soft_rebound)  # the default duties of both sides are alike
    assert np.array_equal(np.where(shaft > 0.0, rebound, compression), firm)


@pytest.mark.validates(GONCALVES + ": tyre deflection at the wheel hop falls as the share of skyhook falls")
def test_tyre_deflection_at_the_wheel_hop_falls_steadily_towards_groundhook() -> None:
    shares = np.linspace(0.0, 1.0, 11)
    hop = np.sqrt((SET_A.spring + SET_A.tyre) / SET_A.unsprung) / (2.0 * np.pi)
    drive = Bench(SET_A).drive(hybrid(by_case(shares)), sines(np.full(11, hop), 6.0))
    deflection = drive.first_harmonic("tyre_deflection", hop, 4.0) / 0.001
    assert (np.diff(deflection) > 0.0).all()
    assert deflection[-1] > 2.0 * deflection[0]


@pytest.mark.validates("own result on the linear quarter car A, ISO 8608 class C at 20 m/s, valve of 5 ms; no published number")
def test_groundhook_with_the_whole_range_buys_no_grip_over_a_firm_fixed_setting() -> None:
    lines = Lines.iso(256e-6, 20.0, seed=1)
    fixed = Bench(SET_A, 0.005).drive(passive(np.geomspace(300.0, 4000.0, 12), SET_A), lines.ground(12))
    hook = Bench(SET_A, 0.005).drive(TWO_STATE["on-off groundhook"], lines.ground(1))
    grip = hook.rms("tyre_deflection", 8.0)[0] / fixed.rms("tyre_deflection", 8.0).min()
    comfort = hook.rms("acceleration", 8.0)[0] / fixed.rms("acceleration", 8.0).min()
    assert grip == pytest.approx(1.0, abs=0.02)
    assert comfort == pytest.approx(1.57, abs=0.05)

"""How near the mix of skyhook and acceleration-driven comes to what the damper could do, with foresight and without."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pytest

from tests.strategies.laws.foresight import HELD, Stretch
from tests.strategies.laws.plain_laws import passive, skyhook_and_acceleration
from tests.strategies.laws.quarter_car import SET_A, SET_B, Array, Bench, Corner, Ground, Lines, beside, by_case

SAVARESI: Final = "Savaresi and Spelta, ASME J. DSMC 129 (2007) 382-392, abstract: quasi-optimal against a predictive controller"
TICKS: Final = 4000
TRIED: Final = [(hertz, firm) for hertz in (0.95, 1.27, 1.6, 2.0) for firm in (0.2, 0.35, 0.6, 1.0)]  # crossover and firm duty


def ground_of(roughness: float, speed: float) -> Ground:
    """4 s of random ground."""
    whole = Lines.iso(roughness, speed, seed=1, period=16.0).ground(1, lead=0.0)
    return Ground(whole.height[: 4 * TICKS + 1], whole.rate[: 4 * TICKS + 1])


def stretch_of(corner: Corner, ground: Ground) -> Stretch:
    """The same ground, one height per tick: that of its middle."""
    return Stretch(corner, np.ascontiguousarray(ground.height[2 : 4 * TICKS : 4, 0]))


def rms_of(corner: Corner, law: Any, ground: Ground, cases: int) -> Array:
    """R.m.s. of body acceleration by case, valve of 5 ms."""
    return Bench(corner, 0.005).drive(law, beside([ground] * cases)).rms("acceleration", 4.0)


@pytest.mark.validates("central differences of the cost; law of nature")
def test_the_slope_of_the_cost_is_that_of_the_cost() -> None:
    stretch = stretch_of(SET_A, ground_of(256e-6, 20.0))
    random = np.random.default_rng(4)
    plan, way = random.uniform(300.0, 4000.0, TICKS // HELD), random.normal(size=TICKS // HELD)
    _, slope, _ = stretch.drive(plan, stretch.ground, np.zeros(4))
    ahead, behind = (stretch.drive(plan + sign * 0.01 * way, stretch.ground, np.zeros(4))[0] for sign in (1.0, -1.0))
    assert slope @ way == pytest.approx((ahead - behind) / 0.02, rel=1e-5)  # measured 3e-7 along one coefficient


@pytest.mark.slow
@pytest.mark.validates(SAVARESI)
@pytest.mark.parametrize(("corner", "road"), [(SET_A, (256e-6, 20.0)), (SET_B, (1024e-6, 12.0))], ids=["A", "B"])
def test_the_mix_is_nearly_what_can_be_had_without_preview_but_not_with_foresight(corner: Corner, road: tuple[float, float]) -> None:
    ground = ground_of(*road)
    stretch = stretch_of(corner, ground)
    foresight, patience = stretch.with_foresight(), stretch.without_preview()
    hertz, firm = np.array(TRIED).T
    law: Any = skyhook_and_acceleration(by_case(hertz), by_case(firm))
    mix = rms_of(corner, law, ground, len(TRIED)).min()
    fixed = rms_of(corner, passive(np.geomspace(corner.soft, corner.firm, 24), corner), ground, 24).min()
    assert 1.05 < patience / foresight < 1.15  # measured 1.095 (A), 1.115 (B)
    assert 0.97 < mix / patience < 1.06  # measured 1.040, 1.022
    assert 1.08 < mix / foresight < 1.20  # measured 1.139, 1.139
    assert fixed / mix > 1.25  # measured 1.45, 1.36

"""What holds for any law on a linear corner: invariant points, and response in proportion to the ground."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.strategies.laws.plain_laws import ALL, passive
from tests.strategies.laws.quarter_car import SET_A, Bench, Ground, Lines, sines

LAWS = {"passive": passive([300.0, 300.0], SET_A), **ALL}


@pytest.mark.validates("M z'' + m zt'' = kt (zr - zt): Hedrick and Butsuen, Invariant properties, Proc. IMechE D 204 (1990); closed form")
@pytest.mark.parametrize("law", LAWS.values(), ids=LAWS)
def test_invariant_points(law: Any) -> None:
    """First harmonics: body over ground is m/M at the wheel's frequency, extension over ground (M + m)/M at the rattle's."""
    points = np.sqrt([SET_A.tyre / SET_A.unsprung, SET_A.tyre / (SET_A.sprung + SET_A.unsprung)]) / (2 * np.pi)
    drive = Bench(SET_A).drive(law, sines(points, 8.0))
    body = drive.first_harmonic("body_height", points, 6.0)[0] / 0.001
    extension = drive.first_harmonic("extension", points, 6.0)[1] / 0.001
    # measured: continuous laws 1.6e-5, those that chatter 4e-5 (first harmonic; their r.m.s. is up to 22 % above it)
    assert body == pytest.approx(SET_A.unsprung / SET_A.sprung, rel=1e-3)
    assert extension == pytest.approx((SET_A.sprung + SET_A.unsprung) / SET_A.sprung, rel=1e-3)


@pytest.mark.validates("homogeneous of degree 1: a law without thresholds on a linear plant; law of nature, exact in binary for 8")
@pytest.mark.parametrize("one_valve", [False, True])
@pytest.mark.parametrize("law", ALL.values(), ids=ALL)
def test_ground_eight_times_as_high_gives_eight_times_the_motion(law: Any, one_valve: bool) -> None:
    whole = Lines.iso(256e-6, 20.0, seed=1).ground(1, lead=0.0)
    short = Ground(whole.height[:6001], whole.rate[:6001]).scaled([1.0, 8.0])  # 1.5 s
    drive = Bench(SET_A, one_valve=one_valve).drive(law, short)
    assert np.array_equal(drive.acceleration[:, 1], 8.0 * drive.acceleration[:, 0])
    assert drive.rms("acceleration", 1.0)[0] > 0.3

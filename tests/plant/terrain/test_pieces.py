"""The shapes of the kinds of ground that hold no chance."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from plant.terrain.berm import Berm
from plant.terrain.corrugation import Corrugation
from plant.terrain.hump import Hump
from plant.terrain.kicker import Kicker
from plant.terrain.ledge import Ledge
from plant.terrain.whoops import Whoops

Array = NDArray[np.float64]

STEP = 0.02
ALONG = STEP * np.arange(5000, dtype=np.float64) - 10.0


def left_right(piece: Any) -> tuple[Array, Array]:
    left, right = piece.heights(ALONG, np.random.default_rng(0))
    return left, right


def at(track: Array, distance: float) -> float:
    return float(np.interp(distance, ALONG, track))


def test_whoops_begin_and_end_level_in_a_trough() -> None:
    left, right = left_right(Whoops(pitch=5.0, height=0.4, count=3))
    assert np.array_equal(left, right)
    assert at(left, 2.5) == pytest.approx(0.4, abs=1e-12)
    assert at(left, 5.0) == pytest.approx(0.0, abs=1e-12)
    assert left.max() <= 0.4
    assert not left[ALONG > 15.0 + STEP].any()
    slope = np.gradient(left, STEP)
    # the slope at 1 step from either end is 2·pi²·height/pitch²·step = 6.3e-3, and 0 beyond; a plain sine would have 0.25
    assert np.abs(slope[np.abs(ALONG - 15.0) < 1.5 * STEP]).max() < 8e-3


def test_corrugation_has_its_height_wavelength_and_lag() -> None:
    left, right = left_right(Corrugation(wavelength=0.8, peak_to_peak=0.03, length=40.0, right_lag=np.pi / 2))
    middle = (ALONG > 10.0) & (ALONG < 30.0)
    # a sine sampled 40 times a wave misses its crest by up to 1 - cos(pi/40) = 0.3 %
    assert np.ptp(left[middle]) == pytest.approx(0.03, rel=4e-3)
    crossings = np.flatnonzero(np.diff(np.sign(left[middle])) > 0)
    assert len(crossings) == 25
    assert at(right, 20.3) == pytest.approx(at(left, 20.1), abs=1e-4)  # between grid points
    assert at(left, 20.1) > 0.01


def test_kicker_has_a_sharp_lip_a_floor_and_a_drop() -> None:
    left, _ = left_right(Kicker(ramp=6.0, foot=3.0, lip_height=0.6, face=0.4, gap=5.0, drop=0.3))
    assert at(left, 6.0) == pytest.approx(0.6, abs=1e-9)
    assert (at(left, 6.0) - at(left, 5.5)) / 0.5 == pytest.approx(Kicker(ramp=6.0, foot=3.0, lip_height=0.6).lip_slope, rel=1e-9)
    assert at(left, 6.4) == pytest.approx(-0.3, abs=1e-9)
    assert at(left, 80.0) == pytest.approx(-0.3, abs=1e-12)


def test_kicker_with_a_falling_landing() -> None:
    left, _ = left_right(Kicker(ramp=6.0, foot=0.0, lip_height=0.6, face=0.4, gap=5.0, landing_height=0.5, landing=8.0))
    assert at(left, 3.0) == pytest.approx(0.3, abs=1e-9)
    assert at(left, 8.0) == pytest.approx(0.0, abs=1e-9)
    assert at(left, 11.0) == pytest.approx(0.5, abs=1e-9)
    assert at(left, 15.0) == pytest.approx(0.25, abs=1e-9)
    assert at(left, 19.0) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("wrong", [{"foot": 7.0}, {"landing_height": 0.5, "gap": 0.5}])
def test_kicker_without_room_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"is longer than|leaves no room"):
        Kicker(**wrong)


def test_berm_lifts_the_right_track_by_its_angle() -> None:
    left, right = left_right(Berm(bank=0.2, build_up=10.0, hold=20.0, run_out=10.0, track=1.5))
    assert np.arctan2(at(right, 20.0) - at(left, 20.0), 1.5) == pytest.approx(0.2, abs=1e-12)
    assert np.array_equal(left, -right)
    assert not left[ALONG > 40.0 + STEP].any()


@pytest.mark.parametrize("side", ["both", "left", "right"])
def test_hump_and_ledge_on_a_side(side: str) -> None:
    for piece, end in ((Hump(length=4.0, height=-0.2, side=side), 0.0), (Ledge(height=-0.2, face=0.2, side=side), -0.2)):
        left, right = left_right(piece)
        for track, hit in ((left, side != "right"), (right, side != "left")):
            assert at(track, 2.0) == pytest.approx(-0.2 if hit else 0.0, abs=1e-12)
            assert at(track, 50.0) == pytest.approx(end if hit else 0.0, abs=1e-12)

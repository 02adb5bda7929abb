"""The shapes of the kinds of ground that hold no chance."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from plant.terrain.berm import Berm
from plant.terrain.corrugation import Corrugation
from plant.terrain.dip import Dip
from plant.terrain.double_whoops import DoubleWhoops
from plant.terrain.drop import Drop
from plant.terrain.hump import Hump
from plant.terrain.kicker import Kicker
from plant.terrain.ledge import Ledge
from plant.terrain.side_slope import SideSlope
from plant.terrain.single_wheel_hit import SingleWheelHit
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


def test_double_whoops_alternate_and_the_later_track_is_the_same_but_later() -> None:
    later = DoubleWhoops(first_length=5.0, first_height=0.4, second_length=3.0, second_height=0.2, count=3, right_lag=1.0)
    left, right = left_right(later)
    for pair in range(3):
        assert at(left, 8.0 * pair + 2.5) == pytest.approx(0.4, abs=1e-12)
        assert at(left, 8.0 * pair + 5.0) == pytest.approx(0.0, abs=1e-12)
        assert at(left, 8.0 * pair + 6.5) == pytest.approx(0.2, abs=1e-12)
    assert not left[ALONG > 24.0 + STEP].any()
    np.testing.assert_allclose(right[50:], left[:-50], atol=1e-12)  # rounding of the grid
    mirrored = left_right(dataclasses.replace(later, right_lag=-1.0))
    assert np.array_equal(mirrored, (right, left))


def test_dip_has_a_floor_between_its_two_ways() -> None:
    left, right = left_right(Dip(depth=0.5, entry=4.0, floor=3.0, climb_out=6.0))
    assert np.array_equal(left, right)
    assert [at(left, x) for x in (2.0, 4.0, 5.5, 7.0, 10.0, 13.0)] == pytest.approx([-0.25, -0.5, -0.5, -0.5, -0.25, 0.0], abs=1e-12)


@pytest.mark.parametrize("side", ["both", "left", "right"])
def test_drop_has_a_straight_face_flat_ground_and_a_way_back(side: str) -> None:
    for track, hit in zip(left_right(Drop(height=0.3, edge=0.1, landing=10.0, climb_out=5.0, side=side)), ("right", "left"), strict=True):
        depth = 0.0 if side == hit else -0.3
        assert [at(track, x) for x in (0.0, 0.04, 0.1, 5.0, 10.1)] == pytest.approx([0.0, 0.4 * depth, depth, depth, depth], abs=1e-9)
        assert [at(track, x) for x in (12.6, 15.2)] == pytest.approx([0.5 * depth, 0.0], abs=1e-9)


def test_drop_for_good() -> None:
    assert at(left_right(Drop(height=0.3, edge=0.1))[0], 80.0) == -0.3


def test_single_wheel_hit_is_round_or_square_on_one_side() -> None:
    for side, height, shape in (("left", 0.1, "round"), ("right", -0.15, "square")):
        left, right = left_right(SingleWheelHit(side=side, height=height, length=0.6, shape=shape, face=0.1))
        hit, level = (left, right) if side == "left" else (right, left)
        assert not level.any()
        assert at(hit, 0.3) == pytest.approx(height, abs=1e-12)
        assert not hit[ALONG > 0.6 + STEP].any()
        assert at(hit, 0.1) == pytest.approx(height if shape == "square" else height * np.sin(np.pi / 6) ** 2, abs=1e-9)


@pytest.mark.parametrize(
    ("piece", "said"),
    [
        (Drop(height=0.3, edge=0.03), "edge 30 mm is shorter than a grid step of 50 mm"),
        (SingleWheelHit(length=0.15), "length 150 mm is shorter than 4 grid steps of 50 mm"),
        (SingleWheelHit(length=0.6, shape="square", face=0.02), "face 20 mm is shorter than a grid step of 50 mm"),
    ],
)
def test_what_the_grid_would_blur_is_refused(piece: Any, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        piece.heights(0.05 * np.arange(100.0), np.random.default_rng(0))


def test_square_hit_without_room_for_its_faces_is_refused() -> None:
    with pytest.raises(ValueError, match="length 300 mm leaves no room for two faces of 200 mm"):
        SingleWheelHit(length=0.3, shape="square", face=0.2)


@pytest.mark.parametrize(("low_side", "sign"), [("right", 1.0), ("left", -1.0)])
def test_side_slope_falls_to_its_low_side(low_side: str, sign: float) -> None:
    left, right = left_right(SideSlope(slope=0.25, low_side=low_side, run_in=8.0, hold=30.0, run_out=8.0, track=1.5))
    assert np.arctan2(at(left, 20.0) - at(right, 20.0), 1.5) == pytest.approx(sign * 0.25, abs=1e-12)
    assert np.array_equal(left, -right)
    assert at(left, 4.0) == pytest.approx(sign * 0.75 * np.tan(0.125), abs=1e-12)

"""What holds for every kind of ground."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from plant.grounds import Piece, kinds

Array = NDArray[np.float64]

STEP = 0.02
ALONG = STEP * np.arange(5000, dtype=np.float64) - 10.0
WITHOUT_FILE = {name: kind for name, kind in kinds().items() if name != "measured_profile"}  # that one in its own test
MADE = {name: kind(road_class="D") if name == "random_road" else kind() for name, kind in WITHOUT_FILE.items()}  # type: ignore[call-arg]


def heights(piece: Piece) -> tuple[Array, Array]:
    return piece.heights(ALONG, np.random.default_rng(1))


def test_all_kinds_are_found() -> None:
    plain = {"random_road", "corrugation", "whoops", "kicker", "berm", "hump", "ledge"}
    assert plain | {"double_whoops", "dip", "crest", "drop", "single_wheel_hit", "side_slope", "washed_out"} <= set(kinds())
    assert "measured_profile" in kinds()


@pytest.mark.parametrize("name", MADE)
def test_ground_is_level_before_the_piece(name: str) -> None:
    for track in heights(MADE[name]):
        assert track.shape == ALONG.shape
        assert np.isfinite(track).all()
        assert not track[ALONG < 0].any()
    assert np.abs(heights(MADE[name])).max() > 1e-3


LEVEL_END = {"kicker": 0.0, "ledge": 0.1, "drop": -0.3}  # 0 for all others


@pytest.mark.parametrize("name", MADE)
def test_ground_ends_level(name: str) -> None:
    long = np.arange(-10.0, 1100.0, STEP)
    for track in MADE[name].heights(long, np.random.default_rng(1)):
        # rounding of a cosine of a whole turn
        np.testing.assert_allclose(track[-200:], LEVEL_END.get(name, 0.0), atol=1e-12)


@pytest.mark.parametrize("name", MADE)
def test_same_seed_same_bits_and_no_track_shares_the_other_ones_memory(name: str) -> None:
    first, again = heights(MADE[name]), heights(MADE[name])
    assert np.array_equal(first, again)
    assert not np.shares_memory(*first)


# steepest slope that each kind states, at its default sizes
SLOPES = {
    "corrugation": np.pi * 0.03 / 0.8 + 0.015 * 0.5 * np.pi / 2.0,
    "whoops": np.pi * 0.4 / 6.0,
    "kicker": 0.5 * np.pi * 0.6 / 0.4,
    "berm": 0.5 * np.pi * 0.2 / 10.0 * 0.75 / np.cos(0.2) ** 2,
    "hump": np.pi * 0.2 / 4.0,
    "ledge": 0.5 * np.pi * 0.1 / 0.2,
    "double_whoops": np.pi * 0.35 / 5.0,
    "dip": 0.5 * np.pi * 0.4 / 6.0,
    "crest": 0.5 * np.pi * 1.0 / 12.0,
    "drop": 0.3 / 0.1,
    "single_wheel_hit": np.pi * 0.1 / 0.6,
    "side_slope": 0.5 * np.pi * 0.2 / 8.0 * 0.75 / np.cos(0.2) ** 2,
}
SHARP = {"kicker", "drop"}  # a lip is an edge


@pytest.mark.parametrize("name", SLOPES)
def test_no_height_steps(name: str) -> None:
    for track in heights(MADE[name]):
        # 1e-9: rounding of the grid; a chord is never steeper than the steepest slope
        assert np.abs(np.diff(track)).max() <= SLOPES[name] * STEP * (1 + 1e-9)


@pytest.mark.parametrize("name", sorted(set(SLOPES) - SHARP))
def test_no_slope_steps(name: str) -> None:
    for track in heights(MADE[name]):
        bend = np.abs(np.diff(track, 2)).max() / STEP
        # a step in slope would stay when the grid gets finer; a curve's bend shrinks with it, here to under a third of its slope
        assert bend < 0.35 * SLOPES[name]

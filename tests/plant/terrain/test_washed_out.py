"""A washed-out track as a piece."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from plant.terrain.random_road import RandomRoad
from plant.terrain.washed_out import WashedOut

ALONG = 0.05 * np.arange(4000, dtype=np.float64) - 10.0


def test_seed_decides_where_the_washouts_are_and_the_grid_does_not() -> None:
    piece = WashedOut(length=150.0)
    first, again, other = (list(piece.washouts(np.random.default_rng(seed))) for seed in (4, 4, 5))
    assert first == again != other
    fine = 0.02 * np.arange(9000, dtype=np.float64) - 10.0
    smooth = WashedOut("A", length=150.0, shallowest=0.15)
    deep = [smooth.heights(grid, np.random.default_rng(4))[0] < -0.1 for grid in (ALONG, fine)]
    # a share of cells, so coarse cells miss the rims: 5 cm in every metre or so
    assert deep[0].mean() * 200.0 == pytest.approx(deep[1].mean() * 180.0, abs=0.5)


def test_washouts_keep_their_sizes_their_distance_and_the_stretch() -> None:
    piece = WashedOut(length=400.0, spacing=4.0, fade=5.0, oblique=0.5)
    for seed in range(5):
        cut = list(piece.washouts(np.random.default_rng(seed)))
        starts, lengths = np.array([one.start for one in cut]), np.array([one.length for one in cut])
        depths = np.array([one.depth for one in cut])
        assert starts.min() >= 5.0
        assert (starts + lengths[:, None]).max() <= 395.0
        assert (starts.min(axis=1)[1:] - (starts.max(axis=1) + lengths)[:-1]).min() >= 2.0
        assert ((lengths >= 0.6) & (lengths <= 1.8)).all()
        assert ((depths.max(axis=1) >= 0.06) & (depths.max(axis=1) <= 0.2)).all()
        alone = depths.min(axis=1) == 0
        assert (depths.min(axis=1)[~alone] >= 0.5 * depths.max(axis=1)[~alone]).all()
        # 72 +- 5 washouts: 395 m over 1.2 m of length, 0.25 m of lag and 4 m of clearance; a third of them on one side
        assert 55 < len(cut) < 90
        assert 0.1 < alone.mean() < 0.6
        assert 0.2 < (depths[alone, 0] > 0).mean() < 0.8


def test_between_the_washouts_lies_the_random_ground() -> None:
    piece = WashedOut("E", length=100.0)
    random = np.random.default_rng(3)
    cut = list(piece.washouts(random))
    ground = RandomRoad("E", length=100.0).heights(ALONG, random)
    felt = piece.heights(ALONG, np.random.default_rng(3))
    for side in range(2):
        taken = ground[side] - felt[side]
        assert taken.max() == pytest.approx(max(one.depth[side] for one in cut), abs=1e-12)
        clear = np.ones(len(ALONG), bool)
        for one in cut:
            clear &= (one.start[side] > ALONG) | (one.start[side] + one.length < ALONG)
        assert np.array_equal(felt[side][clear], ground[side][clear])


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"shallowest": 0.3}, "shallowest 300 mm is above deepest 200 mm"),
        ({"shortest": 2.0}, "shortest 2000 mm is above longest 1800 mm"),
        ({"wall": 0.5}, "shortest 600 mm leaves no room for two walls of 500 mm"),
        ({"length": 10.0, "fade": 6.0}, "length 10 m leaves no room for two fades of 6 m"),
    ],
)
def test_contradictions_are_refused(wrong: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        WashedOut(**wrong)

"""Random ground as a piece."""

from __future__ import annotations

import numpy as np
import pytest

from plant.terrain.random_road import RandomRoad

ALONG = 0.05 * np.arange(2000, dtype=np.float64) - 10.0


def test_seed_decides_every_bit() -> None:
    first, again, other = (RandomRoad("D").heights(ALONG, np.random.default_rng(seed)) for seed in (4, 4, 5))
    assert np.array_equal(first, again)
    assert not np.allclose(first, other)


def test_a_number_stands_for_a_class() -> None:
    by_class = RandomRoad("C").heights(ALONG, np.random.default_rng(1))
    by_number = RandomRoad(density=256e-6).heights(ALONG, np.random.default_rng(1))
    # rtol: 256e-6 and 16e-6·16 may differ by a rounding
    np.testing.assert_allclose(by_class, by_number, rtol=1e-12)


@pytest.mark.parametrize("wrong", [{}, {"road_class": "C", "density": 1e-4}, {"road_class": "C", "lowest": 1.0, "highest": 0.5}])
def test_contradictions_are_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"expected either|not below"):
        RandomRoad(**wrong)  # type: ignore[arg-type]


def test_a_band_the_grid_can_not_hold_is_refused() -> None:
    with pytest.raises(ValueError, match="needs a grid step up to 25 mm"):
        RandomRoad("C", highest=20.0).heights(ALONG, np.random.default_rng(1))


def test_road_fades_in_from_level_ground() -> None:
    for seed in range(3):
        for track in RandomRoad("E", fade=4.0).heights(ALONG, np.random.default_rng(seed)):
            # half a metre into a fade of 4 m the window is sin(pi/16)² = 0.038; unfaded class E has 29 mm r.m.s.
            assert np.abs(track[(ALONG >= 0) & (ALONG < 0.5)]).max() < 0.004
            assert np.abs(track[ALONG > 4.0]).max() > 0.03

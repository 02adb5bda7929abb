"""The fit as a function: what it refuses and what it leaves alone."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from dualduty.errors import BadInput
from plant.iso8608 import bands, road_class, roughness, roughness_of_file


def test_each_class_ends_where_the_next_begins() -> None:
    for index, letter in enumerate("ABCDEFGH"):
        for density in (32e-6 * 4.0**index * 0.999, 8e-6 * 4.0**index * 1.001):
            assert road_class(density) == letter
    assert (road_class(1e-9), road_class(10.0)) == ("A", "H")


def test_bands_are_whole_and_widen_downwards() -> None:
    low, high = bands(0.011, 2.83)
    assert (low >= 0.011).all()
    assert (high <= 2.83).all()
    assert (np.diff(np.sqrt(low * high)) > 0).all()
    width = np.log2(high / low)
    assert sorted({round(1 / float(each)) for each in width}) == [1, 3, 12]


def test_height_and_slope_of_the_whole_do_not_count() -> None:
    rough = 0.01 * np.random.default_rng(1).standard_normal(4000).cumsum()
    tilted = rough + 3.0 + 0.02 * np.arange(4000.0)
    # rtol: the line is taken out; what is left is rounding
    np.testing.assert_allclose(roughness(tilted, 0.05).density, roughness(rough, 0.05).density, rtol=1e-9)


def test_a_profile_that_is_too_short_or_flat_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"1 m hold 0 bands of ISO 8608 in 0.011 to 2.83 1/m; expected 5"):
        roughness(np.zeros(20), 0.05)
    with pytest.raises(ValueError, match="no roughness at"):
        roughness(np.zeros(4000), 0.05)
    path = tmp_path / "short.csv"
    path.write_text("distance_m,left_mm,right_mm\n0,0,0\n1,1,1\n", encoding="utf-8")
    with pytest.raises(BadInput, match=r"short.csv: 1.05 m hold 0 bands"):
        roughness_of_file(path)

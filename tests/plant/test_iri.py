"""The roughness index as a function."""

from __future__ import annotations

import numpy as np
import pytest

from plant.iri import roughness_index


def test_index_grows_with_height() -> None:
    height = 1e-3 * np.random.default_rng(1).standard_normal(2000).cumsum()
    # rtol: the same linear recursion on doubled numbers; doubling is exact in binary
    np.testing.assert_allclose(roughness_index(2 * height, 0.05), 2 * roughness_index(height, 0.05), rtol=1e-14)


def test_too_short_a_profile_is_refused() -> None:
    with pytest.raises(ValueError, match=r"height is \(100,\)"):
        roughness_index(np.zeros(100), 0.05)

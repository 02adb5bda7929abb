"""The invented survey behind the section `measured_track`."""

from __future__ import annotations

import numpy as np

from dualduty.shipped import shipped_calibrations
from dualduty.trial.demo_profile import demo_profile, profile_text
from plant.profile_file import read_profile


def test_shipped_profile_is_the_one_its_seed_makes() -> None:
    path = shipped_calibrations() / "sections" / "measured_track.csv"
    shipped, (distance, left, right) = read_profile(path), demo_profile()
    assert path.read_text(encoding="utf-8").startswith("# Invented")
    # atol: heights are written to 0.1 mm and distances to 1 mm
    np.testing.assert_allclose(shipped.left, left, atol=6e-5)
    np.testing.assert_allclose(shipped.right, right, atol=6e-5)
    np.testing.assert_allclose(shipped.distance, distance, atol=6e-4)


def test_another_seed_is_another_track() -> None:
    assert profile_text(30) == profile_text()
    assert profile_text(31) != profile_text()

"""A profile brought onto a grid, and its long waves taken out."""

from __future__ import annotations

import numpy as np
import pytest

from plant.resample import low_pass, resampled, without_long_waves

STEP = 0.05
AT = STEP * np.arange(400, dtype=np.float64)
INSIDE = slice(50, 350)
FINE = 0.01 * np.arange(2400, dtype=np.float64)


@pytest.mark.parametrize("wavelength", [5.0, 1.0, 0.3, 0.15, 0.125])
@pytest.mark.validates("closed form: a sine that the grid can carry is the same sine on the grid")
def test_waves_the_grid_carries_are_kept(wavelength: float) -> None:
    kept = resampled(FINE, np.sin(2 * np.pi * FINE / wavelength), AT)
    # atol: the filter's ripple of 60 dB, 1e-3, and the cubic between 12 points a wave; measured 2.2e-3 at 0.125 m, 9e-4 and less above
    np.testing.assert_allclose(kept[INSIDE], np.sin(2 * np.pi * AT / wavelength)[INSIDE], atol=3e-3)


@pytest.mark.parametrize("wavelength", [0.1, 0.09, 0.07, 0.055, 0.05, 0.03, 0.02])
@pytest.mark.validates("Shannon: a wave shorter than two steps of a grid would come back as a longer one, so it must be gone; 60 dB stated")
def test_waves_the_grid_can_not_carry_are_gone(wavelength: float) -> None:
    left = resampled(FINE, np.sin(2 * np.pi * FINE / wavelength + 0.3), AT)
    # 60 dB is 1e-3; measured 2.3e-3 at 0.055 m, where 5 points a wave and the cubic between them add an image of their own
    assert np.abs(left[INSIDE]).max() < 3e-3


@pytest.mark.validates("closed form: uneven points of a smooth curve give the curve")
def test_uneven_points() -> None:
    uneven = np.sort(FINE + np.random.default_rng(1).uniform(-0.003, 0.003, len(FINE)))
    # atol: measured 1.7e-4, the ripple of the filter, which is 60 dB or 1e-3 at most
    np.testing.assert_allclose(
        resampled(uneven, np.sin(2 * np.pi * uneven / 3.0), AT)[INSIDE], np.sin(2 * np.pi * AT / 3.0)[INSIDE], atol=3e-4
    )


@pytest.mark.validates("closed form: a level stays level, and on its own grid a coarse profile keeps its points to the bit")
def test_levels_and_points_are_kept() -> None:
    # rtol: a sum of some thousand weights
    np.testing.assert_allclose(resampled(FINE, np.full(len(FINE), 2.5), AT), 2.5, rtol=1e-13)
    coarse = 0.25 * np.arange(80, dtype=np.float64)
    height = np.random.default_rng(2).standard_normal(80)
    assert np.array_equal(resampled(coarse, height, AT)[: 5 * 79 : 5], height[:79])
    taps = low_pass(20)
    assert len(taps) % 2 == 1
    np.testing.assert_allclose(taps, taps[::-1], atol=1e-17)


@pytest.mark.parametrize("wavelength", [1.0, 2.0, 4.0])
@pytest.mark.validates(
    "Gaussian profile filter, ISO 16610-21 (formula from memory): a sine of length L keeps 1 - 2^-(cut-off/L)², half at the cut-off"
)
def test_long_waves_are_taken_out(wavelength: float) -> None:
    wave = np.sin(2 * np.pi * AT / wavelength)
    kept = without_long_waves(wave, STEP, 2.0)
    # atol: measured 1e-9, the Gaussian cut at six standard deviations
    np.testing.assert_allclose(kept[100:300], (1 - 2.0 ** -((2.0 / wavelength) ** 2)) * wave[100:300], atol=5e-9)

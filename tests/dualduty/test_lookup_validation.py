"""Curves and surfaces against numpy and scipy."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.interpolate import RegularGridInterpolator

from dualduty.lookup import Curve, Surface, between

POINTS = np.array([0.0, 1.0, 1.5, 4.0])
VALUES = np.array([0.2, 0.1, 0.9, 0.5])
X = np.concatenate([np.linspace(-1.0, 5.0, 61), POINTS, np.nextafter(POINTS, -9.0), np.nextafter(POINTS, 9.0)]).reshape(1, -1, 1)


@pytest.mark.validates("numpy.interp: piecewise linear, held at its ends")
def test_curve_is_interp() -> None:
    # atol: low + share * (high - low) against interp's slope form; measured 1.1e-16
    np.testing.assert_allclose(Curve(POINTS, VALUES)(X), np.interp(X, POINTS, VALUES), rtol=0, atol=5e-16)


@pytest.mark.validates("numpy.interp: each corner and case by itself")
def test_curve_values_by_corner_and_case() -> None:
    values = np.random.default_rng(1).uniform(0, 1, (4, 4, 3))
    points = POINTS.reshape(4, 1, 1) * np.array([1.0, 1.2, 0.7])
    made = Curve(points, values)(X)
    assert made.shape == (4, X.shape[1], 3)
    for corner, case in np.ndindex(4, 3):
        expected = np.interp(X[0, :, 0], points[:, 0, case], values[:, corner, case])
        np.testing.assert_allclose(made[corner, :, case], expected, rtol=0, atol=5e-16)  # as above


@pytest.mark.validates("numpy.interp: breakpoints may differ between cases where the values do not")
@pytest.mark.parametrize("cases", [1, 2])
def test_breakpoints_by_case_with_equal_values(cases: int) -> None:
    points = np.stack([POINTS, 2 * POINTS], axis=-1)[:, None, :]
    x = np.repeat(X, cases, axis=2)
    made = Curve(points, VALUES.reshape(4, 1, 1))(x)
    np.testing.assert_allclose(made[0, :, 1], np.interp(X[0, :, 0], 2 * POINTS, VALUES), rtol=0, atol=5e-16)  # as above


@pytest.mark.validates("scipy.interpolate.RegularGridInterpolator: bilinear, held at its edges by clipping")
def test_surface_is_bilinear() -> None:
    y_points = np.array([-1.0, 0.0, 3.0])
    values = np.random.default_rng(2).uniform(0, 1, (4, 3))
    random = np.random.default_rng(3)
    x, y = random.uniform(-1, 5, (4, 50, 2)), random.uniform(-2, 4, (4, 50, 2))
    grid = RegularGridInterpolator((POINTS, y_points), values)
    expected = grid(np.stack([np.clip(x, 0.0, 4.0), np.clip(y, -1.0, 3.0)], axis=-1))
    np.testing.assert_allclose(Surface(POINTS, y_points, values)(x, y), expected, rtol=0, atol=5e-16)  # measured 1.7e-16


@pytest.mark.validates("closed form: one breakpoint is a constant; not a number stays so; clip")
def test_edges() -> None:
    assert (Curve(np.array([2.0]), np.array([0.7]))(X) == 0.7).all()
    assert np.isnan(Curve(POINTS, VALUES)(np.full((1, 1, 1), np.nan))).all()
    wild: NDArray[np.float64] = np.array([[[-np.inf, -0.1, 0.4, 1.1, np.inf]]])
    np.testing.assert_array_equal(between(0.0, wild, 1.0), np.clip(wild, 0.0, 1.0))
    assert np.isnan(between(0.0, np.array([[[np.nan]]]), 1.0)).all()

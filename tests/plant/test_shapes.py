"""Smooth shapes."""

from __future__ import annotations

import numpy as np
import pytest

from plant.shapes import contact_average, rounded_ramp, trapezoid


def test_contact_average_is_the_mean_over_the_patch() -> None:
    distance = 0.05 * np.arange(400, dtype=np.float64)
    for patch in (0.05, 0.1, 0.12, 0.25):
        wave = np.sin(2 * np.pi * distance / 1.0)
        gain = np.ptp(contact_average(wave, patch, 0.05)[100:300]) / np.ptp(wave[100:300])
        # the mean of a sine over a length L is sinc(L/wavelength); on a grid of 20 a wave it measures 0.4 to 0.8 % off
        assert gain == pytest.approx(np.sinc(patch), rel=0.012)


def test_contact_average_keeps_planes_and_may_be_switched_off() -> None:
    plane = 0.1 * np.arange(200.0)
    np.testing.assert_allclose(contact_average(plane, 0.3, 0.05)[10:-10], plane[10:-10], rtol=1e-12)  # rounding
    assert contact_average(plane, 0.0, 0.05) is plane


def test_rounded_ramp_reaches_one_without_a_kink_at_its_foot() -> None:
    along = np.linspace(-1.0, 8.0, 9001)
    ramp = rounded_ramp(along, 6.0, 2.0)
    assert ramp[-1] == pytest.approx(1.0)
    assert np.abs(np.diff(ramp, 2)[along[1:-1] < 5.9]).max() < 1e-5 * np.abs(np.diff(ramp)).max() * 1e3
    assert not ramp[along <= 0].any()


def test_trapezoid() -> None:
    assert trapezoid(np.array([-1.0, 0.0, 1.0, 2.0, 5.0, 7.0, 8.0]), 2.0, 3.0, 4.0) == pytest.approx([0, 0, 0.5, 1, 1, 0.5, 0.25])

"""Factors of the units that loggers use, against the published ones."""

from __future__ import annotations

import math

import pytest

from replay.channels.recorded_unit import recorded_unit

_FACTORS = "Thompson and Taylor, Guide for the Use of the International System of Units, NIST SP 811, 2008, appendix B.8"


@pytest.mark.validates(_FACTORS)
@pytest.mark.parametrize(
    ("label", "factor", "digits"),
    [
        ("inch", 2.54e-2, 16),  # exact
        ("ft", 3.048e-1, 16),  # exact
        ("mile", 1.609344e3, 16),  # exact
        ("mph", 4.4704e-1, 16),  # exact
        ("km/h", 2.777778e-1, 7),
        ("knot", 5.144444e-1, 7),
        ("ft/s", 3.048e-1, 15),  # exact
        ("psi", 6.894757e3, 7),
        ("bar", 1.0e5, 16),  # exact
        ("lbf", 4.448222, 7),
        ("rpm", 1.047198e-1, 7),
        ("deg", 1.745329e-2, 7),
        ("rev", 6.283185, 7),
        ("lbf/inch", 1.751268e2, 7),
        ("kgf/cm^2", 9.80665e4, 16),  # exact
        ("foot_pound", 1.355818, 7),
    ],
)
def test_factor_to_si(label: str, factor: float, digits: int) -> None:
    # as many digits as the table prints; where it marks a factor exact, to the rounding of a few products
    assert recorded_unit(label).gain == pytest.approx(factor, rel=max(0.5 * 10.0 ** (1 - digits), 1e-15))
    assert recorded_unit(label).shift == 0.0


@pytest.mark.validates("ISO 80000-3:2019, conventional value of the acceleration of free fall, 9.80665 m/s²")
def test_gravity() -> None:
    assert recorded_unit("g").gain == 9.80665


@pytest.mark.validates("NIST SP 811, 2008, appendix B.8: t/°C = (t/°F - 32)/1.8; freezing 32 °F, boiling 212 °F, equal at -40")
@pytest.mark.parametrize(("fahrenheit", "celsius"), [(32.0, 0.0), (212.0, 100.0), (-40.0, -40.0)])
def test_a_scale_with_another_zero_has_a_shift(fahrenheit: float, celsius: float) -> None:
    known = recorded_unit("degF")
    # abs: 273.15 is taken off at the end, which leaves its rounding, 6e-14 measured
    assert math.isclose(known.gain * fahrenheit + known.shift, celsius, abs_tol=2e-13)


@pytest.mark.validates("BIPM, The International System of Units, 9th edition, 2019, 2.3.1: 0 °C is 273.15 K")
def test_kelvin() -> None:
    assert recorded_unit("K").shift == -273.15

"""Units as loggers spell them: one meaning whatever the spelling, our own words first, and a plain line for what is no unit."""

from __future__ import annotations

import hypothesis
import pytest
from hypothesis import strategies

from dualduty.units import UNITS
from replay.channels.recorded_unit import is_unit, recorded_unit


@pytest.mark.parametrize(
    ("spellings", "dimension"),
    [
        (("m/s²", "m/s2", "m/s^2", "m/s/s", "m_s2", "[m/s2]"), "acceleration"),
        (("deg/s", "°/s", "deg/sec", "dps", "deg_s", "DEG/S", "º/s"), "angular speed"),
        (("km/h", "kph", "KPH", "kmh", "km_h"), "speed"),
        (("g", "G", "gn", "g's"), "acceleration"),
        (("%", "pct", "percent"), "number"),
        (("inch", "in", "inches", '"'), "length"),
        (("N·s/m", "Ns/m", "N s/m"), "damping"),
        (("degC", "°C", "deg C", "celsius"), "temperature"),
        (("degF", "°F", "fahrenheit"), "temperature"),
        (("rpm", "RPM", "rev/min", "r/min"), "angular speed"),
        (("psi", "PSI"), "pressure"),
        (("", "1", "-", "counts"), "number"),
    ],
)
def test_one_meaning_whatever_the_spelling(spellings: tuple[str, ...], dimension: str) -> None:
    found = {(recorded_unit(label).gain, recorded_unit(label).shift) for label in spellings}
    assert len(found) == 1, found
    assert {recorded_unit(label).dimension for label in spellings} == {dimension}


def test_gravity_is_meant_and_never_gram() -> None:
    assert recorded_unit("g").dimension == "acceleration"
    assert recorded_unit("mg").gain == pytest.approx(9.80665e-3, rel=1e-12)


def test_our_own_table_reads_as_before() -> None:
    for token, entry in UNITS.items():
        found = recorded_unit(entry.label)
        assert found.gain == pytest.approx(entry.factor, rel=1e-14), token
        assert entry.dimension in found.dimensions, token


@pytest.mark.parametrize(
    ("label", "told"),
    [("gg", "'gg' is not a unit known here; did you mean 'g'"), ("milimeter", "did you mean"), ("blorp", "is not a unit")],
)
def test_what_is_no_unit_is_told_with_near_ones(label: str, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        recorded_unit(label)


@pytest.mark.parametrize(
    "label", ["10**10**10", "m^9^9", "a*" * 40, "5 mm", "m^999", "(", "__import__('os')", "mm\n; rm", "%%", "1e9", "^2"]
)
def test_an_expression_is_not_worked_out(label: str) -> None:
    assert not is_unit(label)


@hypothesis.settings(max_examples=150)
@hypothesis.given(strategies.text(alphabet="abcdegmhknpsrVAN°%²³µ·*/^()-0123456789 .", max_size=12))
def test_any_text_is_a_unit_or_one_line(label: str) -> None:
    try:
        found = recorded_unit(label)
    except ValueError:
        return
    assert found.gain != 0.0

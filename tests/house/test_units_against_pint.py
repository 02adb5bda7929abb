"""The unit table against an independent one: every factor and every dimension."""

from __future__ import annotations

import re
from typing import Any

import pint
import pytest

from dualduty.units import UNITS, Unit

REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry()
# Labels of ours that mean something else in pint, or have no digits-and-letters form there.
SAID_IN_PINT = {"1": "dimensionless", "%": "percent", "g": "standard_gravity", "deg": "degree", "min": "minute"}


def in_pint(unit: Unit) -> Any:
    """The same unit, read by pint from our printed label: `N·m·s/rad` -> N*m*s/rad."""
    label = unit.label.replace("°C", "kelvin").replace("·", "*").replace("²", "^2").replace("³", "^3")
    words = re.findall(r"\^[\d.]+|[^\W\d_]+|%|\d+|[*/()]", label)
    assert "".join(words) == label
    read = "".join(SAID_IN_PINT.get(word, word).replace("^", "**") if word != "1" or label == "1" else "1" for word in words)
    return REGISTRY.Quantity(1.0, "dimensionless") * REGISTRY.parse_expression(read)


@pytest.mark.parametrize("token", UNITS)
def test_factor(token: str) -> None:
    # rel: both are a handful of products of doubles; the largest difference over the table is 2e-16
    assert in_pint(UNITS[token]).to_base_units().magnitude == pytest.approx(UNITS[token].factor, rel=1e-14)


def test_wrong_factor_and_wrong_dimension_are_seen() -> None:
    wrong = Unit("km/h", "length", 3.6)
    assert in_pint(wrong).to_base_units().magnitude != pytest.approx(wrong.factor)
    assert in_pint(wrong).dimensionality != in_pint(UNITS["m"]).dimensionality


def test_one_dimension_is_one_dimension() -> None:
    found: dict[str, set[str]] = {}
    for unit in UNITS.values():
        found.setdefault(unit.dimension, set()).add(str(in_pint(unit).dimensionality))
    assert {name: kinds for name, kinds in found.items() if len(kinds) > 1} == {}

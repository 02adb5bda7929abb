"""The demo car, once for all tests of the strategy."""

from __future__ import annotations

from pathlib import Path

import pytest

import dualduty
from dualduty.car import Car, read_car

VEHICLE = Path(dualduty.__file__).parent.parent / "calibrations" / "vehicles" / "marram.toml"


@pytest.fixture(scope="session")
def car() -> Car:
    """The Marram; invented."""
    return read_car(VEHICLE)

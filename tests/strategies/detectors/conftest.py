"""The flights, driven once for all tests of the detectors that watch them."""

from __future__ import annotations

import pytest

from tests.strategies.detectors.flights import Flights, drive_flights


@pytest.fixture(scope="session")
def flights(tmp_path_factory: pytest.TempPathFactory) -> Flights:
    """Fourteen cases of 4 to 5 s; about 5 s."""
    return drive_flights(tmp_path_factory.mktemp("flights"))

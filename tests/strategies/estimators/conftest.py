"""The lane, driven once for all tests of estimators."""

from __future__ import annotations

import pytest

from tests.strategies.estimators.lane import Driven, drive_lane


@pytest.fixture(scope="session")
def driven(tmp_path_factory: pytest.TempPathFactory) -> Driven:
    """Eight sections at fixed duties with usual sensors; about 3 s."""
    return drive_lane(tmp_path_factory.mktemp("lane"))

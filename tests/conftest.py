"""What holds for the whole suite: a named source for every validation, reproducible examples, no windows."""

from __future__ import annotations

import os

import hypothesis
import pytest

os.environ.setdefault("MPLBACKEND", "Agg")

# Same seed, same bits: a failing example fails again for everyone. `--hypothesis-profile=explore` looks for new ones.
hypothesis.settings.register_profile("house", derandomize=True, deadline=None, database=None)
hypothesis.settings.register_profile("explore", deadline=None, database=None, max_examples=2000)
hypothesis.settings.load_profile("house")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Refuse a validation that doesn't name its source."""
    unsourced = [item.nodeid for item in items if item.path.match("test_*_validation.py") and not _names_source(item)]
    if unsourced:
        listed = "\n".join(f"  {name}" for name in unsourced)
        raise pytest.UsageError(f'a validation needs @pytest.mark.validates("author, title, year, equation or table"):\n{listed}')


def _names_source(item: pytest.Item) -> bool:
    marker = item.get_closest_marker("validates")
    return marker is not None and bool(marker.args) and isinstance(marker.args[0], str) and bool(marker.args[0].strip())

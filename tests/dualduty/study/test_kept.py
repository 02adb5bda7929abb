"""What a search found is believed only when the same was asked and the reference still gives the same numbers."""

from __future__ import annotations

from pathlib import Path

import pytest

from dualduty.study.kept import Kept

ASKED, REFERENCE = [1, "a"], [[0.1, 0.2]]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A file with one entry."""
    path = tmp_path / "kept.json"
    Kept.of(path).put("whoops", ASKED, REFERENCE, {"value": 0.1 + 0.2})
    return path


def test_found_again_to_the_bit(path: Path) -> None:
    entry = Kept.of(path).find("whoops", ASKED, REFERENCE)
    assert entry is not None
    assert entry["value"] == 0.1 + 0.2


@pytest.mark.parametrize(
    ("name", "asked", "reference"),
    [("dip", ASKED, REFERENCE), ("whoops", [2, "a"], REFERENCE), ("whoops", ASKED, [[0.1, 0.2 + 1e-16 * 2]])],
)
def test_anything_else_is_searched_anew(path: Path, name: str, asked: object, reference: object) -> None:
    assert Kept.of(path).find(name, asked, reference) is None


@pytest.mark.parametrize("text", ["", "{", "[]", '{"whoops": 3}', "\x00"])
def test_a_file_that_is_none_is_as_good_as_no_file(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8")
    assert Kept.of(path).find("whoops", ASKED, REFERENCE) is None

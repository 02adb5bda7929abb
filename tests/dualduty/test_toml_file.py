"""A TOML file is read, or what is wrong with it is one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from dualduty.errors import BadInput
from dualduty.toml_file import read_toml


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[cornering]\nmin_recall_pct = " + "9" * 400, ": cornering.min_recall_pct: expected a number of 64 bits"),
        ("a = [1, {b = -" + "9" * 30 + "}]", ": a[1].b: expected a number of 64 bits"),
        ("a = " + "9" * 5_000, ": is not valid TOML: "),
        ("a = " + "[" * 3_000, ": is not valid TOML: too many brackets"),
        ("a = ", ": is not valid TOML: "),
        ("a = 1\0", ": is not valid TOML: "),
    ],
)
def test_what_is_no_toml_is_one_line(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "gates.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        read_toml(path)
    assert str(caught.value).startswith(f"{path}{said}")
    assert "\n" not in str(caught.value)


def test_the_largest_integers_are_read(tmp_path: Path) -> None:
    path = tmp_path / "numbers.toml"
    path.write_text(f"a = {2**63 - 1}\nb = [{-(2**63)}, true]\n", encoding="utf-8")
    assert read_toml(path) == {"a": 2**63 - 1, "b": [-(2**63), True]}

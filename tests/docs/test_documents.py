"""The comparison of shown and printed output sees what it should."""

from __future__ import annotations

import pytest

from tests.docs.documents import told_apart

SHOWN = "berm roll 1.75 deg, was 1.87 deg (+8 %)\n3 worse\ncompute 7.9 s; 14.1 s in all"


@pytest.mark.parametrize(
    ("came", "differs"),
    [
        (SHOWN, False),
        (SHOWN.replace("compute 7.9", "compute 12.3"), False),
        (SHOWN.replace("1.75", "1.76"), False),
        (SHOWN.replace("8 %", "9 %"), False),
        (SHOWN.replace("berm roll", "berm  roll"), False),
        (SHOWN.replace("1.75", "1.95"), True),
        (SHOWN.replace("+8 %", "-8 %"), True),
        (SHOWN.replace("3 worse", "4 worse"), True),
        (SHOWN.replace("berm", "whoops"), True),
        (SHOWN + "\nmore", True),
        ("", True),
    ],
)
def test_differences_are_told(came: str, differs: bool) -> None:
    assert bool(told_apart(SHOWN, came)) is differs

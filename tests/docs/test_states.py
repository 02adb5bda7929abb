"""docs/states.md: every state of the shipped detectors is defined there, and the numbers of truth are those of the code."""

from __future__ import annotations

import dataclasses
import re

import pytest

from dualduty.discovery import discover
from dualduty.truth_states import BY_CORNER, Limits
from dualduty.units import to_si
from tests.docs.documents import ROOT

TEXT = (ROOT / "docs" / "states.md").read_text(encoding="utf-8")
DEFINED = TEXT.split("## Definitions")[1].split("What follows")[0]
NUMBERS = dict(
    re.findall(r"^\| `(\w+)` \| ([\d.]+ [^|]+?) \|", TEXT.split("## Numbers of the definitions")[1].split("## How")[0], re.MULTILINE)
)
LIMITS = dataclasses.asdict(Limits())


def test_every_state_and_its_detector_is_there() -> None:
    rows = [line.split("|") for line in DEFINED.splitlines() if line.startswith("| `")]
    defined = {(name, row[4].strip(" `")) for row in rows for name in re.findall(r"`(\w+)`", row[1])}
    shipped = {(given.name, found.name) for found in discover().by_name.values() for given in found.gives if given.is_state}
    assert defined == shipped
    assert set(BY_CORNER) <= {name for name, _ in defined}


@pytest.mark.parametrize("name", sorted(NUMBERS))
def test_numbers_of_truth_are_those_of_the_code(name: str) -> None:
    number, said = NUMBERS[name].split(" ", 1)
    value = float(number) * (1e-6 if said == "cm³" else to_si(1.0, said))
    assert value == pytest.approx(LIMITS[name], rel=1e-9)


def test_no_number_but_the_car_s_and_short_stretches_is_left_out() -> None:
    assert set(LIMITS) - set(NUMBERS) == {"least_braking", "least_felt", "least_slow", "track", "wheelbase"}

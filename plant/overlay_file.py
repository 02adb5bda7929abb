"""A hardware overlay: what is changed on a vehicle, written as TOML with units in the keys.

name = "rear_compression_firmer"
provenance = "..."
intent = "what it is for"

payload = "two_in_the_back"          # one of the vehicle's payloads

[[wish]]                             # valving, in the words of a request to the damper group (see dualduty.dyno.request)
corners = ["rear"]
side = "compression"
change_pct = 15
from_m_s = 1.5
to_m_s = 3.0

[zones]                              # a bypass or hydraulic stop, as in the vehicle file
rear_compression = { travel_mm = [0, 60, 120], multiplier = [0.6, 0.6, 1] }

[change_by]                          # any number of [car] or [plant], in per cent
spring_rate_pct = { rear = 10 }

[change_to]                          # any number of [car] or [plant], to a value
tyre_pressure_bar = 1.0              # brings tyre rate and damping along

Corners that are left out stay as they are. Where the vehicle then stands follows from springs and masses.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.car import Car, raise_all
from dualduty.dyno.request import Wish, read_wishes
from dualduty.errors import BadInput
from dualduty.number_table import given_numbers
from dualduty.parameters import Declaration, declarations
from dualduty.toml_file import optional_table, read_toml
from plant.vehicle import Vehicle
from plant.zone_file import read_zones

Array = NDArray[np.float64]

TOP: Final = ("name", "provenance", "intent", "payload", "wish", "zones", "change_by", "change_to")
FOLLOWING: Final = ("static_travel", "static_wheel_load", "hang_travel")  # of springs and masses
_LEAST_SHARE: Final = -0.95
_MOST_SHARE: Final = 9.0


@dataclass(frozen=True, eq=False)
class Overlay:
    """An overlay as read; numbers are in SI, NaN at corners that stay as they are, `shares` are relative changes. [1]"""

    file: Path
    name: str
    provenance: str
    intent: str
    payload: str
    wishes: tuple[Wish, ...]
    zones: dict[str, Any]
    shares: dict[str, float | Array]
    values: dict[str, float | Array]


def read_overlay(path: Path) -> Overlay:
    """Read an overlay; SeveralBadInputs lists every problem with its key."""
    document = read_toml(path)
    problems = [_unknown(f"{path}: {key}", key) for key in document if key not in TOP]
    texts = {key: _text(document, key, path, problems) for key in ("name", "provenance", "intent", "payload")}
    tables = {key: optional_table(document, key, path, problems) for key in ("zones", "change_by", "change_to")}
    wishes = read_wishes(document["wish"], path, problems) if "wish" in document else []
    declared = {**declarations(Car), **declarations(Vehicle)}
    values = given_numbers(declared, tables["change_to"], f"{path}: change_to", problems, some_corners=True)
    shares = given_numbers(_relative(declared), tables["change_by"], f"{path}: change_by", problems, some_corners=True)
    _check(path, values, shares, problems)
    read_zones(tables["zones"], f"{path}: zones", problems)
    if not (wishes or texts["payload"] or any(tables.values())) and not problems:
        problems.append(BadInput(path, "changes nothing; expected payload, [[wish]], [zones], [change_by] or [change_to]"))
    raise_all(problems)
    return Overlay(
        path, texts["name"], texts["provenance"], texts["intent"], texts["payload"], tuple(wishes), tables["zones"], shares, values
    )


def _unknown(place: str, key: str) -> BadInput:
    near = difflib.get_close_matches(key, TOP, n=1)
    return BadInput(place, f"unknown; did you mean {near[0]!r}?" if near else f"unknown; expected {', '.join(TOP)}")


def _text(document: dict[str, Any], key: str, path: Path, problems: list[BadInput]) -> str:
    said = document.get(key, "" if key == "payload" else None)
    if isinstance(said, str) and (said.strip() or key == "payload"):
        return said
    problems.append(BadInput(f"{path}: {key}", f"expected a text, came {said!r}"))
    return ""


def _relative(declared: dict[str, Declaration]) -> dict[str, Declaration]:
    """The same numbers as changes in per cent."""
    return {
        name: replace(entry, meaning=f"change of {entry.meaning}", unit="1", said="%", low=_LEAST_SHARE, high=_MOST_SHARE, default=0.0)
        for name, entry in declared.items()
    }


def _check(path: Path, values: dict[str, float | Array], shares: dict[str, float | Array], problems: list[BadInput]) -> None:
    for table, numbers in (("change_to", values), ("change_by", shares)):
        for name in numbers:
            if name in FOLLOWING:
                problems.append(BadInput(f"{path}: {table}.{name}", "follows from springs, gas and masses: change those"))
            elif table == "change_by" and name in values:
                problems.append(BadInput(f"{path}: {table}.{name}", "is in change_to as well; expected one of them"))

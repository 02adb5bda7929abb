"""Writing a fit into the [fit] table of a this-vehicle file, all else left as it stands."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import tomlkit

from dualduty.car import Car
from dualduty.errors import BadInput
from dualduty.files import whole_file
from dualduty.number_table import key_of
from dualduty.parameters import declarations
from dualduty.signals import CORNERS
from dualduty.units import UNITS, token_of
from plant.vehicle import Vehicle, read_vehicle


def write_fit(path: Path, numbers: dict[str, Any], stamp: str) -> Vehicle:
    """Write numbers [SI, by field name] and the stamp; the file is only replaced when it can be read again. Gives the vehicle read."""
    document = tomlkit.parse(path.read_text(encoding="utf-8"))
    if "type" not in document:
        raise BadInput(path, "is a vehicle type; a fit belongs to one vehicle, expected a file with type = ...")
    document["fit"] = _table(numbers, stamp)
    with whole_file(path) as draft:
        draft.write_text(tomlkit.dumps(document), encoding="utf-8", newline="\n")
        return read_vehicle(draft)


def _table(numbers: dict[str, Any], stamp: str) -> Any:
    declared = {**declarations(Car), **declarations(Vehicle)}
    table = tomlkit.table()
    table["stamp"] = stamp
    for name, value in numbers.items():
        declaration = declared[name]
        factor = UNITS[token_of(declaration.said)].factor
        table[key_of(declaration)] = _said(np.asarray(value, float) / factor)
    return table


def _said(value: Any) -> Any:
    if value.ndim == 0:
        return _short(float(value))
    inline = tomlkit.inline_table()
    for corner, each in zip(CORNERS, value, strict=True):
        inline[corner] = _short(float(each))
    return inline


def _short(value: float) -> float:
    return float(f"{value:.5g}")

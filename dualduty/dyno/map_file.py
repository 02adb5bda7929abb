"""A damper map written as the CSV table that vehicle files name."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from dualduty.damper_map import DamperMap
from dualduty.dyno.sheet import Sheet
from dualduty.errors import BadInput
from dualduty.files import write_text


def write_damper_map(path: Path, damper_map: DamperMap, remarks: Sequence[str] = ()) -> None:
    """Write a map as `read_damper_map` reads it, whole or not at all; forces to 0.1 N, remarks as `#` lines."""
    percents = np.round(damper_map.duties * 100.0)
    if np.abs(percents - damper_map.duties * 100.0).max() > 1e-6:  # noqa: PLR2004 - rounding of a percentage
        raise BadInput(path, "duties of a map file are whole per cent, these are not")
    forces = np.round(damper_map.forces, 1)
    DamperMap(damper_map.speeds, damper_map.duties, forces, str(path))  # what can't be read back isn't written
    header = ",".join(["shaft_speed_m_s", *(f"duty_{percent:.0f}_pct" for percent in percents)])
    rows = [",".join(f"{value:.7g}" for value in (speed, *row)) for speed, row in zip(damper_map.speeds, forces, strict=True)]
    write_text(path, "\n".join([*(f"# {' '.join(remark.split())}" for remark in remarks), header, *rows]) + "\n")


def write_sheet_map(path: Path, sheet: Sheet, side: str) -> None:
    """Write the map of one side of a sheet, with a line that says where it came from."""
    taken = f"gas {sheet.gas_force:.0f} N {sheet.gas_rate:+.0f} N/m and friction {sheet.friction:.0f} N taken out"
    who = f"{sheet.serial}, {sheet.vehicle} {sheet.corner}, build {sheet.build}, {side}, oil {sheet.facts.oil_temperature:g} degC"
    write_damper_map(path, sheet.damper_map(side), (f"{who}; {taken}", f"{sheet.facts.provenance}"))

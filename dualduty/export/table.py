"""The candidate as one table (CSV): every value with its place, unit, drive mode, corner and breakpoints."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np

from dualduty.calibration.model import Calibration
from dualduty.calibration.settings import Value
from dualduty.cautions import CAUTIONS
from dualduty.errors import BadInput
from dualduty.signals import CORNERS
from dualduty.units import from_si, to_si, unit

COLUMNS: Final = (
    "place", "parameter", "drive_mode", "corner", "axis_1", "axis_1_unit", "axis_1_point", "axis_2", "axis_2_unit", "axis_2_point",
    "value", "unit", "lowest_allowed", "highest_allowed",
)  # fmt: skip
DIGITS: Final = 12  # significant digits written; far below any valve's resolution, and free of conversion noise
Row = dict[str, str]


def table_rows(calibration: Calibration) -> Iterator[Row]:
    """All rows: the order of layers and their words first, then every value."""
    for index, layer in enumerate(calibration.layers):
        for word in ("laws", "act", "join", "when", "unless"):
            said = getattr(layer, word)
            yield _row(f"layers.{layer.name}", word, value=" ".join(said) if isinstance(said, tuple) else said)
        yield _row(f"layers.{layer.name}", "order", value=str(index + 1))
    yield _row("suppliers", "order", value=" ".join(calibration.suppliers))
    for place, name, value in calibration.values():
        yield from _value_rows(place, name, value, calibration.modes)


def table_text(calibration: Calibration) -> str:
    """The table as CSV text, cautions and provenance in comment lines above the header."""
    out = io.StringIO()
    for line in (
        f"candidate: {calibration.name}",
        f"digest: {calibration.digest}",
        f"vehicle type: {calibration.car.name}",
        f"drive modes: {', '.join(calibration.modes)}",
        f"note: {calibration.note or 'none'}",
        *CAUTIONS,
    ):
        out.write(f"# {' '.join(line.split())}\n")
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(table_rows(calibration))
    return out.getvalue()


def read_table(path: Path) -> list[Row]:
    """Rows of an exported table; BadInput when it isn't one."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise BadInput(path, f"can't be read as a table: {error.strerror or error}") from None
    except UnicodeDecodeError:
        raise BadInput(path, "expected UTF-8 text") from None
    while text.startswith("#"):
        text = text.partition("\n")[2]
    reader = csv.DictReader(io.StringIO(text, newline=""))
    if tuple(reader.fieldnames or ()) != COLUMNS:
        raise BadInput(path, f"expected the columns {', '.join(COLUMNS)}, got {', '.join(reader.fieldnames or ()) or 'none'}")
    return list(reader)


def unlike(rows: list[Row], calibration: Calibration) -> list[str]:
    """Where a table that was read back does not say what the calibration holds; empty when it does."""
    wanted = {_key(row): row for row in table_rows(calibration)}
    found = {_key(row): row for row in rows}
    lines = [f"missing: {' '.join(key).strip()}" for key in wanted.keys() - found.keys()]
    lines += [f"not in the calibration: {' '.join(key).strip()}" for key in found.keys() - wanted.keys()]
    lines += [
        f"{' '.join(key).strip()}: expected {row['value']} {row['unit']}, got {found[key]['value']} {found[key]['unit']}"
        for key, row in wanted.items()
        if key in found and not _same_value(row, found[key])
    ]
    return sorted(lines)


def _same_value(a: Row, b: Row) -> bool:
    if not a["unit"]:
        return a["value"] == b["value"]
    try:
        return to_si(float(a["value"]), a["unit"]) == to_si(float(b["value"]), b["unit"])
    except ValueError:
        return False


def _key(row: Row) -> tuple[str, ...]:
    return tuple(row[name] for name in ("place", "parameter", "drive_mode", "corner", "axis_1_point", "axis_2_point"))


def _value_rows(place: str, name: str, value: Value, modes: tuple[str, ...]) -> Iterator[Row]:
    declaration = value.declaration
    label = unit(declaration.said).label
    limits = {"lowest_allowed": said(declaration.low, declaration.said), "highest_allowed": said(declaration.high, declaration.said)}
    for point in np.ndindex(value.values.shape[:-2]):
        axes = _axes(value, point)
        for mode, mode_name in enumerate(modes):
            by_corner = value.values[(*point, mode)]
            for corner, corner_name in enumerate(CORNERS if declaration.by_corner else ("all",)):
                yield _row(place, name, drive_mode=mode_name, corner=corner_name, **axes,
                           value=said(by_corner[corner], declaration.said), unit=label, **limits)  # fmt: skip


def _axes(value: Value, point: tuple[int, ...]) -> dict[str, str]:
    cells = {}
    for number, (axis, points, index) in enumerate(zip(value.declaration.axes, value.points, point, strict=True), start=1):
        cells[f"axis_{number}"] = axis.name
        cells[f"axis_{number}_unit"] = unit(axis.said).label
        cells[f"axis_{number}_point"] = said(points[index], axis.said)
    return cells


def said(value: float, label: str) -> str:
    """An SI value as written in the table, in the unit people say."""
    return f"{from_si(float(value), label):.{DIGITS}g}"


def _row(place: str, parameter: str, **cells: Any) -> Row:
    return dict.fromkeys(COLUMNS, "") | {"place": place, "parameter": parameter} | cells

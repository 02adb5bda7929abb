"""Where dampers lived, as rows of numbers: for a table and for any spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from math import isnan
from typing import Final

from dualduty.signals import CORNER_LABELS, CORNERS, SIDES
from dualduty.trial.damper_life import DamperLife
from replay.damper_life import RANGES, CornerLife

_RANGE_COLUMNS: Final = (
    *(f"share_{low:g}_to_{high:g}_m_s_pct" for low, high in zip((0.0, *RANGES[:-1]), RANGES, strict=True)),
    f"share_above_{RANGES[-1]:g}_m_s_pct",
)
COLUMNS: Final = (
    "run", "corner", "side", "seconds_s", "share_of_time_pct", *_RANGE_COLUMNS, "fastest_m_s", "beyond_map_ms", "duty_median_pct",
    "energy_j", "mean_power_w", "speed_noise_m_s",
)  # fmt: skip
Row = dict[str, str | float]


def life_rows(life: DamperLife) -> list[Row]:
    """A row per corner and side; shares are of the window's time with a known speed, so that both sides add up to what moved."""
    return [_row(life, one, corner, side) for corner, one in enumerate(life.corners) if one is not None for side in range(len(SIDES))]


def _row(life: DamperLife, one: CornerLife, corner: int, side: int) -> Row:
    whole = max(one.seconds, 1e-9)
    nothing = one.known.sum() <= 0.0
    numbers = (
        one.seconds, 100.0 * one.moving[side] / whole, *(100.0 * one.ranges[side] / whole), one.fastest[side], 1e3 * one.beyond[side],
        100.0 * one.duty_at(side, 0.5), float("nan") if nothing else one.energy[side], one.power[side], one.speed_noise,
    )  # fmt: skip
    return dict(zip(COLUMNS, (life.name, CORNERS[corner], SIDES[side], *map(float, numbers)), strict=True))


def csv_text(lives: Sequence[DamperLife]) -> str:
    """All rows of some runs, and after two of them their differences, the second less the first."""
    rows = [row for life in lives for row in life_rows(life)]
    if len(lives) == 2:  # noqa: PLR2004 - a pair
        rows += differences(lives[0], lives[1])
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows([[_cell(row[name]) for name in COLUMNS] for row in rows])
    return out.getvalue()


def _cell(value: str | float) -> str:
    if isinstance(value, str):
        return value
    return "" if isnan(value) else f"{value:.6g}"


def differences(first: DamperLife, second: DamperLife) -> list[Row]:
    """The second run less the first, of what both have."""
    before = {(row["corner"], row["side"]): row for row in life_rows(first)}
    found = []
    for row in life_rows(second):
        old = before.get((row["corner"], row["side"]))
        if old is not None:
            numbers = {name: float(row[name]) - float(old[name]) for name in COLUMNS[3:]}
            found.append({"run": "difference", "corner": row["corner"], "side": row["side"], **numbers})
    return found


def table_cells(row: Row, *, signed: bool = False) -> list[str]:
    """Cells of a terminal table: corner and side, share of time, by range of speed, fastest, beyond the map, duty, mean power."""
    label = CORNER_LABELS[CORNERS.index(str(row["corner"]))]
    sign = "+" if signed else ""

    def said(name: str, digits: int, unit: str = "") -> str:
        value = float(row[name])
        return "-" if isnan(value) else f"{value:{sign}.{digits}f}{unit}"

    shares = [said(name, 1) for name in _RANGE_COLUMNS]
    ends = [said("fastest_m_s", 2), said("beyond_map_ms", 0), said("duty_median_pct", 0), said("mean_power_w", 0)]
    return [f"{label} {row['side']}", said("share_of_time_pct", 1), *shares, *ends]

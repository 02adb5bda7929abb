"""The scorecard as a grid, for the picture and the page alike: measures down, sections across, one drive mode."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from dualduty.report import words
from dualduty.report.verdict import VERDICTS
from dualduty.report.words import Row

SILENT: Final = ("identical", "not comparable")  # a change says nothing here


@dataclass(frozen=True)
class Order:
    """Wanted order of sections and measures, by their names in the rows; what isn't named follows as it appears."""

    sections: Sequence[str] = ()
    measures: Sequence[str] = ()


@dataclass(frozen=True)
class Grid:
    """Cells of one mode by (line, column); of several rows for one place, the worst."""

    mode: str
    columns: tuple[str, ...]
    lines: tuple[tuple[str, str], ...]  # measure and its unit
    cells: dict[tuple[int, int], Row]
    worst: Row | None

    @property
    def moved(self) -> bool:
        """Whether any cell is more than identical."""
        return any(row.get("verdict") not in SILENT for row in self.rows)

    @property
    def rows(self) -> list[Row]:
        """The rows that are shown."""
        return list(self.cells.values())


def grids(rows: Sequence[Row], order: Order | None = None) -> list[Grid]:
    """One grid per drive mode; all have the same columns and lines, so that eyes can jump from one to the other."""
    order = order or Order()
    several = len({str(row.get("vehicle", "")) for row in rows}) > 1
    by_section = _sorted(rows, "section", order.sections)
    columns = tuple(dict.fromkeys(_column(row, several=several) for row in by_section))
    lines = tuple(dict.fromkeys(_line(row) for row in _sorted(rows, "measure", order.measures)))
    modes = dict.fromkeys(str(row["mode"]) for row in rows)
    return [_grid(mode, [row for row in rows if str(row["mode"]) == mode], columns, lines, several=several) for mode in modes]


def _grid(mode: str, rows: Sequence[Row], columns: tuple[str, ...], lines: tuple[tuple[str, str], ...], *, several: bool) -> Grid:
    cells: dict[tuple[int, int], Row] = {}
    ordered = words.worst_first(rows)
    for row in ordered:
        cells.setdefault((lines.index(_line(row)), columns.index(_column(row, several=several))), row)
    worst = ordered[0] if ordered and ordered[0].get("verdict") == "worse" else None
    return Grid(mode, columns, lines, cells, worst)


def _sorted(rows: Sequence[Row], key: str, wanted: Sequence[str]) -> list[Row]:
    place = {name: index for index, name in enumerate(wanted)}
    return sorted(rows, key=lambda row: place.get(str(row[key]), len(place)))


def _line(row: Row) -> tuple[str, str]:
    return words.say_measure(row), words.say_unit(str(row.get("unit", "")))


def _column(row: Row, *, several: bool) -> str:
    """Section, and the vehicle where there is more than one."""
    return f"{words.say_section(row)}, {row.get('vehicle', '')}" if several else words.say_section(row)


def say_cell(row: Row) -> str:
    """Symbol and change; the two values where a share of the baseline says nothing, as from zero."""
    symbol = VERDICTS[str(row["verdict"])][0] if row.get("verdict") in VERDICTS else ""
    if row.get("verdict") in SILENT:
        return symbol
    if words.is_number(row.get("change_pct")):
        return f"{symbol} {words.say_change(row['change_pct'])}".strip()
    if words.is_number(row.get("baseline")) and words.is_number(row.get("candidate")):
        return f"{symbol} {words.say_number(row['baseline'])} → {words.say_number(row['candidate'])}".strip()
    return symbol

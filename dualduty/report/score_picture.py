"""The scorecard as a picture: measures down, sections across, each cell better, same or worse at a glance."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Final

from matplotlib.axes import Axes
from matplotlib.collections import PatchCollection
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from dualduty.report import look, words
from dualduty.report.verdict import VERDICTS
from dualduty.report.words import Row

ROW: Final = 0.285  # inches
LEFT: Final = 3.05
HEAD: Final = 0.70  # and a line for each line of the section names
LINE: Final = 0.155
FOOT: Final = 0.42
LETTER: Final = 0.088  # inches: a wide one at the size of the section names
DOT: Final = VERDICTS["identical"][0]
UNKNOWN: Final = (" ", "unknown", look.PAPER, look.SOFT_INK)


def draw_scores(rows: Sequence[Row], mode: str | None = None) -> Figure:
    """Picture of the rows of one drive mode (None: of all rows, which should then be of one mode)."""
    chosen = [row for row in rows if mode is None or row["mode"] == mode]
    several = _several_vehicles(chosen)
    measures = list(dict.fromkeys(_line(row) for row in chosen))
    sections = list(dict.fromkeys(_column(row, several) for row in chosen))
    heads = [_head(section, len(sections)) for section in sections]
    height = HEAD + LINE * max([len(head) for head in heads] or [0]) + FOOT + ROW * max(len(measures), 2)
    figure = look.new_figure(look.WIDE, height)
    title = f"What changed in {mode}" if mode is not None else "What changed"
    look.say_title(figure, title, words.count_sentence(chosen))
    if not chosen:
        return figure
    axes = _board(figure, height, len(sections), len(measures))
    _names(axes, heads, measures)
    _cells(axes, chosen, sections, measures)
    seen = [verdict for verdict in VERDICTS if any(row.get("verdict") == verdict for row in chosen)]
    handles = [look.patch(VERDICTS[verdict][2]) for verdict in seen]
    labels = [f"{VERDICTS[verdict][0]}  {VERDICTS[verdict][1]}" for verdict in seen]
    if any(row.get("verdict") == "worse" for row in chosen):
        handles.append(Rectangle((0, 0), 1, 1, facecolor=look.PAPER, edgecolor=look.INK, linewidth=2.2))
        labels.append("worst of all")
    look.legend_below(figure, handles, labels)
    return figure


def draw_all_scores(rows: Sequence[Row]) -> dict[str, Figure]:
    """One picture per drive mode, in the order in which the modes appear."""
    return {mode: draw_scores(rows, mode) for mode in dict.fromkeys(str(row["mode"]) for row in rows)}


def _line(row: Row) -> tuple[str, str]:
    return words.say_measure(row), words.say_unit(str(row.get("unit", "")))


def _several_vehicles(rows: Sequence[Row]) -> bool:
    return len({str(row.get("vehicle", "")) for row in rows}) > 1


def _column(row: Row, several: bool) -> str:
    """Section, and the vehicle where there is more than one."""
    return f"{words.say_section(row)}, {row.get('vehicle', '')}" if several else words.say_section(row)


def _board(figure: Figure, height: float, columns: int, lines: int) -> Axes:
    share = 1.0 - LEFT / look.WIDE - 0.01
    width = min(share, columns * 1.9 / look.WIDE)
    axes = figure.add_axes((LEFT / look.WIDE, FOOT / height, width, ROW * lines / height))
    axes.set_xlim(0, columns)
    axes.set_ylim(lines, 0)
    axes.set_axis_off()
    return axes


def _head(section: str, columns: int) -> list[str]:
    """A section's name in lines that fit its column."""
    room = max(int(min(9.4 / columns, 1.9) / LETTER), 8)
    return [look.shorten(line, room) for line in textwrap.wrap(section, room)[:3]]


def _names(axes: Axes, heads: Sequence[Sequence[str]], measures: Sequence[tuple[str, str]]) -> None:
    for column, lines in enumerate(heads):
        label = "\n".join(look.plain(line) for line in lines)
        axes.text(column + 0.5, -0.2, label, ha="center", va="bottom", fontsize=look.PANEL_SIZE, color=look.INK, linespacing=1.25)
    for row, (measure, said) in enumerate(measures):
        label = look.shorten(measure, 46) + (f" [{said}]" if said not in ("", "1") else "")
        axes.text(-0.02 * len(heads) / 7, row + 0.5, look.plain(label), ha="right", va="center", fontsize=look.TICK_SIZE, color=look.INK)


def _cells(axes: Axes, rows: Sequence[Row], sections: Sequence[str], measures: Sequence[tuple[str, str]]) -> None:
    boxes, fills, dots = [], [], []
    worst = min(rows, key=words.badness)
    several = _several_vehicles(rows)
    for row in rows:
        column = sections.index(_column(row, several))
        line = measures.index(_line(row))
        symbol, _, fill, ink = VERDICTS.get(str(row.get("verdict")), UNKNOWN)
        boxes.append(Rectangle((column + 0.015, line + 0.04), 0.97, 0.92))
        fills.append(fill)
        loud = "bold" if row.get("verdict") in ("worse", "better") else "normal"
        told = _told(row, symbol)
        if told == DOT:
            dots.append((column + 0.5, line + 0.5))
            continue
        axes.text(column + 0.5, line + 0.52, told, ha="center", va="center", fontsize=look.TICK_SIZE, color=ink, fontweight=loud)
        if row is worst and row.get("verdict") == "worse":
            axes.add_patch(Rectangle((column, line), 1, 1, fill=False, edgecolor=look.INK, linewidth=2.2, zorder=4, clip_on=False))
    if dots:  # all in one go: texts are what costs time here
        axes.plot(*zip(*dots, strict=True), linestyle="", marker=".", markersize=3, color=look.SOFT_INK)
    axes.add_collection(PatchCollection(boxes, facecolors=fills, edgecolors=look.GRID, linewidths=0.6, zorder=1))


def _told(row: Row, symbol: str) -> str:
    """Symbol and change; the two values where a share of the baseline says nothing, as from zero."""
    if row.get("verdict") in ("identical", "not comparable"):
        return symbol
    change = row.get("change_pct")
    if words.is_number(change):
        return f"{symbol} {words.say_change(change)}"
    if words.is_number(row.get("baseline")) and words.is_number(row.get("candidate")):
        return f"{symbol} {words.say_number(row['baseline'])} → {words.say_number(row['candidate'])}"
    return symbol

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
from dualduty.report.words import Row

ROW: Final = 0.285  # inches
LEFT: Final = 2.75
HEAD: Final = 1.28
FOOT: Final = 0.42
UNKNOWN: Final = ("·", "unknown", look.PAPER, look.SOFT_INK)


def draw_scores(rows: Sequence[Row], mode: str | None = None) -> Figure:
    """Picture of the rows of one drive mode (None: of all rows, which should then be of one mode)."""
    chosen = [row for row in rows if mode is None or row["mode"] == mode]
    measures = list(dict.fromkeys((str(row["measure"]), str(row.get("unit", ""))) for row in chosen))
    sections = list(dict.fromkeys(str(row["section"]) for row in chosen))
    height = HEAD + FOOT + ROW * max(len(measures), 2)
    figure = look.new_figure(look.WIDE, height)
    title = f"What changed in {mode}" if mode is not None else "What changed"
    look.say_title(figure, title, words.count_sentence(chosen))
    if not chosen:
        return figure
    axes = _board(figure, height, len(sections), len(measures))
    _names(axes, sections, measures)
    _cells(axes, chosen, sections, measures)
    seen = [verdict for verdict in look.VERDICTS if any(row.get("verdict") == verdict for row in chosen)]
    handles = [look.patch(look.VERDICTS[verdict][2]) for verdict in seen]
    labels = [f"{look.VERDICTS[verdict][0]}  {look.VERDICTS[verdict][1]}" for verdict in seen]
    if any(row.get("verdict") == "worse" for row in chosen):
        handles.append(Rectangle((0, 0), 1, 1, facecolor=look.PAPER, edgecolor=look.INK, linewidth=2.2))
        labels.append("worst of all")
    look.legend_below(figure, handles, labels)
    return figure


def draw_all_scores(rows: Sequence[Row]) -> dict[str, Figure]:
    """One picture per drive mode, in the order in which the modes appear."""
    return {mode: draw_scores(rows, mode) for mode in dict.fromkeys(str(row["mode"]) for row in rows)}


def _board(figure: Figure, height: float, columns: int, lines: int) -> Axes:
    share = 1.0 - LEFT / look.WIDE - 0.01
    width = min(share, columns * 1.9 / look.WIDE)
    axes = figure.add_axes((LEFT / look.WIDE, FOOT / height, width, ROW * lines / height))
    axes.set_xlim(0, columns)
    axes.set_ylim(lines, 0)
    axes.set_axis_off()
    return axes


def _names(axes: Axes, sections: Sequence[str], measures: Sequence[tuple[str, str]]) -> None:
    room = max(int(9.8 / max(len(sections), 1) / 0.075), 8)
    for column, section in enumerate(sections):
        lines = [look.shorten(line, room) for line in textwrap.wrap(section.replace("_", " "), room)[:3]]
        label = "\n".join(look.plain(line) for line in lines)
        axes.text(column + 0.5, -0.2, label, ha="center", va="bottom", fontsize=look.PANEL_SIZE, color=look.INK, linespacing=1.05)
    for row, (measure, said) in enumerate(measures):
        label = look.shorten(measure, 40) + (f"  [{said}]" if said not in ("", "1") else "")
        axes.text(-0.02 * len(sections) / 7, row + 0.5, look.plain(label), ha="right", va="center", fontsize=look.TICK_SIZE, color=look.INK)


def _cells(axes: Axes, rows: Sequence[Row], sections: Sequence[str], measures: Sequence[tuple[str, str]]) -> None:
    boxes, fills = [], []
    worst = min(rows, key=words.badness)
    for row in rows:
        column = sections.index(str(row["section"]))
        line = measures.index((str(row["measure"]), str(row.get("unit", ""))))
        symbol, _, fill, ink = look.VERDICTS.get(str(row.get("verdict")), UNKNOWN)
        boxes.append(Rectangle((column + 0.015, line + 0.04), 0.97, 0.92))
        fills.append(fill)
        loud = "bold" if row.get("verdict") in ("worse", "better") else "normal"
        axes.text(column + 0.5, line + 0.52, _told(row, symbol), ha="center", va="center", fontsize=look.TICK_SIZE, color=ink, fontweight=loud)
        if row is worst and row.get("verdict") == "worse":
            axes.add_patch(Rectangle((column, line), 1, 1, fill=False, edgecolor=look.INK, linewidth=2.2, zorder=4, clip_on=False))
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

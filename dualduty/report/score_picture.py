"""The scorecard as a picture: measures down, sections across, each cell better, same or worse at a glance."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any, Final

from matplotlib.axes import Axes
from matplotlib.collections import PatchCollection
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from dualduty.report import look, words
from dualduty.report.score_grid import Grid, Order, grids, say_cell
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


def draw_scores(rows: Sequence[Row], mode: str, order: Order | None = None) -> Figure:
    """Picture of one drive mode; an empty one says so."""
    return next((_draw(grid) for grid in grids(rows, order) if grid.mode == mode), _draw(Grid(mode, (), (), {}, None)))


def draw_all_scores(rows: Sequence[Row], order: Order | None = None) -> dict[str, Figure]:
    """One picture per drive mode, in the order in which the modes appear."""
    return {grid.mode: _draw(grid) for grid in grids(rows, order)}


def _draw(grid: Grid) -> Figure:
    heads = [_head(section, len(grid.columns)) for section in grid.columns]
    height = HEAD + LINE * max([len(head) for head in heads] or [0]) + FOOT + ROW * max(len(grid.lines), 2)
    figure = look.new_figure(look.WIDE, height)
    look.say_title(figure, f"What changed in {grid.mode}", words.count_sentence(grid.rows))
    if grid.cells:
        axes = _board(figure, height, len(grid.columns), len(grid.lines))
        _names(axes, heads, grid.lines)
        _cells(axes, grid)
        look.legend_below(figure, *_legend(grid))
    return figure


def _legend(grid: Grid) -> tuple[list[Any], list[str]]:
    seen = [verdict for verdict in VERDICTS if any(row.get("verdict") == verdict for row in grid.rows)]
    handles: list[Any] = [look.patch(VERDICTS[verdict][2]) for verdict in seen]
    labels = [f"{VERDICTS[verdict][0]}  {VERDICTS[verdict][1]}" for verdict in seen]
    if grid.worst is not None:
        handles.append(Rectangle((0, 0), 1, 1, facecolor=look.PAPER, edgecolor=look.INK, linewidth=2.2))
        labels.append("worst of all")
    return handles, labels


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


def _cells(axes: Axes, grid: Grid) -> None:
    boxes, fills, dots = [], [], []
    for (line, column), row in grid.cells.items():
        _, _, fill, ink = VERDICTS.get(str(row.get("verdict")), UNKNOWN)
        boxes.append(Rectangle((column + 0.015, line + 0.04), 0.97, 0.92))
        fills.append(fill)
        loud = "bold" if row.get("verdict") in ("worse", "better") else "normal"
        told = say_cell(row)
        if told == DOT:
            dots.append((column + 0.5, line + 0.5))
        else:
            axes.text(column + 0.5, line + 0.52, told, ha="center", va="center", fontsize=look.TICK_SIZE, color=ink, fontweight=loud)
        if row is grid.worst:
            axes.add_patch(Rectangle((column, line), 1, 1, fill=False, edgecolor=look.INK, linewidth=2.2, zorder=4, clip_on=False))
    if dots:  # all in one go: texts are what costs time here
        axes.plot(*zip(*dots, strict=True), linestyle="", marker=".", markersize=3, color=look.SOFT_INK)
    axes.add_collection(PatchCollection(boxes, facecolors=fills, edgecolors=look.GRID, linewidths=0.6, zorder=1))

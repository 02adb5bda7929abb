"""What a detector check shows over all logs: latencies, margin before touchdown, and what was seen in place of what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from dualduty.report import look, words

NARROW: Final = 6.3  # inches: two beside each other on a laptop page
ROW: Final = 0.36
HEAD: Final = 0.6
FOOT: Final = 0.66
LEFT: Final = 0.3
RIGHT: Final = 0.97
SPREAD: Final = 0.26  # of a row: points of one latency side by side
DOTS: Final[dict[str, Any]] = {
    "color": "#4f9cc0", "markersize": 3.6, "markeredgecolor": look.CANDIDATE, "markeredgewidth": 0.5, "zorder": 4,
}  # fmt: skip
GOLDEN: Final = 0.6180339887  # steps of this spread evenly, and the same way each time
NOTHING: Final = "nothing"


@dataclass(frozen=True)
class Points:
    """One row of a strip plot: its name, values [ms], how many had none, and a limit that they are held to (NaN: none). [ms]"""

    name: str
    values: tuple[float, ...]
    without: int = 0
    limit: float = np.nan


def draw_latencies(rows: Sequence[Points]) -> Figure:
    """A strip per state: every onset latency, the median, and the 90th percentile; late is right of the line."""
    under = "Each point is a mark that was found; right of zero: detected later than marked."
    return _strips(rows, "Onset latency", under, ("median", "90th percentile"))


def draw_margins(rows: Sequence[Points]) -> Figure:
    """A strip per class of air time: how long before touchdown each flight was seen, the median and the least."""
    return _strips(
        rows, "Margin before touchdown, by air time", "Touchdown less onset of the detection; left of zero: seen only on the ground.",
        ("median", "least"),
    )  # fmt: skip


def _strips(rows: Sequence[Points], title: str, under: str, marked: tuple[str, str]) -> Figure:
    height = HEAD + FOOT + ROW * max(len(rows), 1)
    figure = look.new_figure(NARROW, height)
    look.say_title(figure, title, under)
    if not rows:
        return figure
    axes = look.dress(figure.add_axes((LEFT, FOOT / height, RIGHT - LEFT, ROW * len(rows) / height)))
    axes.set_ylim(len(rows), 0)
    axes.set_yticks([index + 0.5 for index in range(len(rows))], [_row_name(row) for row in rows])
    axes.grid(visible=False, axis="y")
    axes.axvline(0.0, color=look.INK, linewidth=0.9)
    for index, row in enumerate(rows):
        _strip(axes, index + 0.5, row, least=marked[1] == "least")
    axes.margins(x=0.06)
    look.say_under(axes, "[ms]")
    look.legend_below(figure, *_strip_legend(marked, limit=any(not np.isnan(row.limit) for row in rows)))
    return figure


def _row_name(row: Points) -> str:
    told = look.plain(look.shorten(row.name.replace("_", " "), 16))
    return f"{told} ({len(row.values)}" + (f", {row.without} missed)" if row.without else ")")


def _strip(axes: Axes, middle: float, row: Points, *, least: bool) -> None:
    if row.values:
        values = np.sort(np.array(row.values))
        aside = (np.arange(len(values)) * GOLDEN) % 1.0 - 0.5
        dots: dict[str, Any] = {
            "color": "#4f9cc0",
            "markersize": 3.6,
            "markeredgecolor": look.CANDIDATE,
            "markeredgewidth": 0.5,
            "zorder": 4,
        }
        axes.plot(values, middle + 2.0 * SPREAD * aside, "o", **dots)
        second = float(values[0]) if least else float(np.percentile(values, 90))
        axes.plot([np.median(values)] * 2, [middle - 0.4, middle + 0.4], color=look.CANDIDATE, linewidth=2.4)
        axes.plot([second] * 2, [middle - 0.4, middle + 0.4], color=look.BASELINE, linewidth=2.0, linestyle=(0, (2.0, 1.0)))
    if not np.isnan(row.limit):
        axes.plot([row.limit] * 2, [middle - 0.5, middle + 0.5], **look.STOP_LINE)


def _strip_legend(marked: tuple[str, str], *, limit: bool) -> tuple[list[Line2D], list[str]]:
    handles = [
        Line2D([], [], color=look.CANDIDATE, linewidth=2.4),
        Line2D([], [], color=look.BASELINE, linewidth=2.0, linestyle=(0, (2.0, 1.0))),
    ]
    labels = list(marked)
    if limit:
        handles.append(Line2D([], [], **look.STOP_LINE))
        labels.append("limit")
    return handles, labels


def draw_cross_triggers(counts: Mapping[tuple[str, str], int]) -> Figure:
    """Rows: states seen where they are not marked; columns: what was marked then; "" is where nothing was."""
    rows = list(dict.fromkeys(seen for seen, _ in counts))
    columns = [*dict.fromkeys(marked for _, marked in counts if marked), NOTHING]
    height = HEAD + 0.3 + ROW * max(len(rows), 1)
    figure = look.new_figure(NARROW, height)
    look.say_title(figure, "Seen where it was not marked", "Rows: what was seen; columns: what was marked at that time.")
    if not rows:
        return figure
    axes = figure.add_axes((LEFT, 0.06 / height, min(RIGHT - LEFT, 0.13 * len(columns)), ROW * len(rows) / height))
    values = np.array([[counts.get((seen, "" if marked == NOTHING else marked), 0) for marked in columns] for seen in rows], dtype=float)
    axes.imshow(values, cmap="Blues", vmin=0.0, vmax=max(float(values.max()) * 1.3, 1.0), aspect="auto")
    axes.set_xticks(range(len(columns)), [_short(name) for name in columns], fontsize=look.SMALL_SIZE)
    axes.set_yticks(range(len(rows)), [_short(name, 24) for name in rows], fontsize=look.TICK_SIZE)
    axes.xaxis.tick_top()
    axes.tick_params(length=0.0)
    for spine in axes.spines.values():
        spine.set_visible(False)
    dark = 0.6 * max(float(values.max()) * 1.3, 1.0)
    for (row, column), value in np.ndenumerate(values):
        if value:
            axes.text(
                column, row, words.say_number(value), ha="center", va="center", fontsize=look.TICK_SIZE,
                color=look.PAPER if value > dark else look.INK,
            )  # fmt: skip
    return figure


def _short(name: str, most: int = 12) -> str:
    return look.plain(look.shorten(name.replace("_", " "), most))

"""One missed, lost or false event up close: what was marked, what was detected, and the signals that the detector reads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from dualduty.report import look

Array = NDArray[np.float64]
Interval = tuple[float, float]

WIDTH: Final = 6.3  # inches: two beside each other on a laptop page
HEAD: Final = 0.52
LANES: Final = 0.44
PANEL: Final = 0.95
GAP: Final = 0.24
FOOT: Final = 0.3
LEFT: Final = 0.115
RIGHT: Final = 0.975
MOST_POINTS: Final = 1500  # more can't be told apart on 700 pixels
MARKED: Final = "#b9c7da"
FOUND: Final[dict[str, Any]] = {"facecolor": look.MARK_COLOURS["found"], "edgecolor": look.CANDIDATE}
LINES: Final[tuple[tuple[str, str], ...]] = (("#143f73", "-"), ("#cf7a2b", "-"), ("#4f9cc0", "--"), ("#6b3d1e", ":"))  # by corner
SHORT: Final = ("fl", "fr", "rl", "rr")


@dataclass(frozen=True)
class Panel:
    """One signal with its unit: a (corner, time) array in that unit, and levels at which the detector decides."""

    title: str
    said: str
    values: Array
    levels: tuple[float, ...] = ()


@dataclass(frozen=True)
class Moment:
    """What is to be seen: over `time`, (time,) [s], panels, and when the state was active.

    `mark` is the event's own where it has one, soft by `margins`; `near` are other marks of the same state;
    `detection` is the one that found nothing. [s]
    """

    title: str
    under: str
    kind: str
    time: Array
    panels: tuple[Panel, ...]
    active: tuple[Interval, ...]
    mark: Interval | None = None
    margins: Interval = (0.0, 0.0)
    near: tuple[Interval, ...] = ()
    detection: Interval | None = None


def draw_event(moment: Moment) -> Figure:
    """Two lanes with mark and detection, and a panel per signal beneath, all over the same time."""
    count = len(moment.panels)
    height = HEAD + LANES + count * (PANEL + GAP) + FOOT
    figure = look.new_figure(WIDTH, height)
    look.say_title(figure, look.shorten(moment.title, 64), look.shorten(moment.under, 112))
    span = (float(moment.time[0]), float(moment.time[-1])) if len(moment.time) > 1 else _around(moment)
    top = height - HEAD - LANES
    lanes = figure.add_axes((LEFT, top / height, RIGHT - LEFT, LANES / height))
    _lanes(lanes, moment, span)
    axes = lanes
    for index, panel in enumerate(moment.panels):
        low = top - (index + 1) * (PANEL + GAP)
        axes = look.dress(figure.add_axes((LEFT, low / height, RIGHT - LEFT, PANEL / height)), panel.title, panel.said)
        _panel(axes, panel, moment, span)
        if index + 1 < count:
            axes.tick_params(labelbottom=False)
    look.say_under(axes, "time [s]")
    axes.tick_params(labelbottom=True)
    return figure


def _around(moment: Moment) -> Interval:
    ends = [*moment.active, *([moment.mark] if moment.mark else [])]
    return (min(one[0] for one in ends) - 0.5, max(one[1] for one in ends) + 0.5) if ends else (0.0, 1.0)


def _lanes(axes: Axes, moment: Moment, span: Interval) -> None:
    axes.set_xlim(*span)
    axes.set_ylim(2.0, 0.0)
    for spine in axes.spines.values():
        spine.set_visible(False)
    axes.tick_params(labelbottom=False, length=0.0, labelsize=look.TICK_SIZE)
    axes.set_yticks([0.5, 1.5], ["marked", "detected"])
    if moment.mark is not None:
        start, end = moment.mark
        soft = (start - moment.margins[0], end + moment.margins[1])
        axes.broken_barh(
            [(soft[0], soft[1] - soft[0])], (0.34, 0.32), facecolor=look.PAPER, edgecolor=look.CANDIDATE, linewidth=0.8, hatch="||||"
        )
        gone = moment.kind in ("missed", "lost")
        face, edge = (look.PAPER, look.MARK_COLOURS["missed"]) if gone else (MARKED, look.CANDIDATE)
        axes.broken_barh([(start, end - start)], (0.1, 0.8), facecolor=face, edgecolor=edge, linewidth=1.6 if gone else 1.0)
    others = [(start, end - start) for start, end in moment.near]
    if others:
        axes.broken_barh(others, (0.1, 0.8), facecolor=MARKED, edgecolor=look.CANDIDATE, linewidth=0.6)
    elif moment.mark is None:
        axes.text(span[0] + 0.01 * (span[1] - span[0]), 0.5, "nothing", va="center", fontsize=look.SMALL_SIZE, color=look.SOFT_INK)
    own = moment.detection
    for wrong in (False, True):
        bars = [(start, end - start) for start, end in moment.active if wrong == bool(own and start < own[1] and own[0] < end)]
        if bars:
            style: dict[str, Any] = {"facecolor": look.MARK_COLOURS["false"], "hatch": "////", "edgecolor": "#7a5a14"} if wrong else FOUND
            axes.broken_barh(bars, (1.1, 0.8), linewidth=0.8, **style)
    if not moment.active:
        axes.text(span[0] + 0.01 * (span[1] - span[0]), 1.5, "nothing", va="center", fontsize=look.SMALL_SIZE, color=look.SOFT_INK)


def _panel(axes: Axes, panel: Panel, moment: Moment, span: Interval) -> None:
    axes.set_xlim(*span)
    if moment.mark is not None:
        axes.axvspan(*moment.mark, color=MARKED, alpha=0.35, linewidth=0.0)
    step = max(len(moment.time) // MOST_POINTS, 1)
    rows = panel.values[:, ::step]
    for (colour, dash), values, name in zip(LINES, rows, SHORT, strict=False):
        axes.plot(moment.time[::step], values, color=colour, linestyle=dash, linewidth=1.2, label=name if len(rows) > 1 else "")
    for level in panel.levels:
        axes.axhline(level, **look.STOP_LINE)
    if panel.levels:
        axes.annotate(
            "opens at", (1.0, panel.levels[0]), (-2, 2), xycoords=("axes fraction", "data"), textcoords="offset points", ha="right",
            fontsize=look.SMALL_SIZE, color=look.STOP_LINE["color"],
            bbox={"facecolor": look.PAPER, "edgecolor": "none", "alpha": 0.75, "pad": 0.8},
        )  # fmt: skip
    axes.margins(y=0.12)
    axes.locator_params(axis="y", nbins=4)
    if len(rows) > 1:
        axes.legend(
            loc="lower right", bbox_to_anchor=(1.0, 0.99), ncols=len(rows), frameon=False, fontsize=look.SMALL_SIZE, borderaxespad=0.0,
            handlelength=1.8, columnspacing=1.0,
        )  # fmt: skip

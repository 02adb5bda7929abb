"""The calibration against constant duties, section by section: what it is worth, and where it loses."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from dualduty.report import look
from dualduty.study.constant_words import compared

if TYPE_CHECKING:
    from dualduty.study.constant_study import Findings

ROW: Final = 0.2  # inches
HEAD: Final = 0.75
FOOT: Final = 0.75
WORST: Final = 1.6  # further right is drawn at the edge, and said


def draw_constants(found: Findings, under: str) -> Figure:
    """A row per section, less is better: calibration, best constant of that section, best single constant; the worst rows at the foot."""
    lags = list(found.plan.vehicles)
    own = found.own(lags[0])
    order = np.argsort(own / found.best)
    height = HEAD + FOOT + ROW * len(order)
    figure = look.new_figure(look.WIDE * 0.8, height)
    look.say_title(figure, "The calibration against constant duties, section by section", under)
    axes = look.dress(figure.add_axes((0.3, FOOT / height, 0.66, 1.0 - (HEAD + FOOT) / height)))
    _rows(axes, found, order)
    axes.axvline(1.0, color=look.SOFT_INK, linewidth=0.8)
    top = min(WORST, 1.04 * max(float(own.max()), float(found.single_values.max()), 1.0))
    axes.set_xlim(0.96 * min(float(own.min()), float(found.best.min())), top)
    axes.set_ylim(len(order) - 0.4, -0.6)
    axes.set_xlabel("objective, less is better; 1 is the fixed damper of the reference", fontsize=look.SMALL_SIZE, color=look.SOFT_INK)
    axes.xaxis.set_label_coords(0.5, -0.3 / (height - HEAD - FOOT))
    look.legend_below(figure, *_legend(lags))
    return figure


def _rows(axes: Axes, found: Findings, order: np.ndarray) -> None:
    lags = list(found.plan.vehicles)
    verdicts = compared(found.own(lags[0]), found.best, found.plan.objectives.draw_within)
    names = [f"{found.sections[at].name.replace('_', ' ')}, {found.sections[at].objective.mode}" for at in order]
    axes.set_yticks(range(len(order)), names, fontsize=look.TICK_SIZE)
    for row, at in enumerate(order):
        one, mode = found.sections[at], found.sections[at].objective.mode
        values = [min(one.calibration[lag, mode], WORST) for lag in lags]
        colour = {-1: look.CANDIDATE, 0: look.SOFT_INK, 1: look.MARK_COLOURS["missed"]}[int(verdicts[at])]
        axes.plot([one.best_value, values[0]], [row, row], color=colour, linewidth=3.0, alpha=0.35, solid_capstyle="butt")
        axes.plot(values, [row] * len(values), color=colour, linewidth=1.0)
        axes.plot(values[0], row, marker="o", markersize=6, color=colour)
        axes.plot(values[1:], [row] * (len(values) - 1), marker="|", markersize=7, color=colour, linestyle="")
        axes.plot(one.best_value, row, marker="D", markersize=5, color=look.BASELINE)
        axes.plot(min(found.single_values[at], WORST), row, marker="x", markersize=5, color=look.INK)


def _legend(lags: list[str]) -> tuple[list[Line2D], list[str]]:
    def mark(shape: str, colour: str) -> Line2D:
        return Line2D([], [], marker=shape, linestyle="", markersize=6, color=colour)

    handles = [mark("o", look.CANDIDATE), mark("o", look.MARK_COLOURS["missed"]), mark("D", look.BASELINE), mark("x", look.INK)]
    labels = [
        "calibration, better than the section's best constant",
        "worse",
        "best constant of the section (hindsight)",
        "best single constant",
    ]
    if len(lags) > 1:
        handles.append(mark("|", look.CANDIDATE))
        labels.append(f"valves {', '.join(lags[1:])}")
    return handles, labels

"""Latency of the flight detector against its false alarms: a curve per threshold, points along it by delay."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from dualduty.report import look

if TYPE_CHECKING:
    from dualduty.study.trade_off import Family, Point, TradeOff

LINEAR: Final = 0.1  # false alarms per minute up to which the scale is straight, so that none at all can be shown
MOST: Final = 20.0  # false per minute, the least that the scale goes to
_HEIGHT: Final = 5.4  # inches


def draw_trade_off(found: TradeOff, under: str) -> Figure:
    """One panel per family; a hollow point misses a flight; the ring is the calibration as it is."""
    count = max(len(found.families), 1)
    figure = look.new_figure(look.WIDE, _HEIGHT)
    look.say_title(figure, "Flight detector: latency against false alarms", under)
    width = 0.94 / count
    for place, (family, points) in enumerate(found.families):
        axes = look.dress(figure.add_axes((0.05 + width * place, 0.2, width - 0.045, 0.6)), _title(family))
        said = look.plain(_along(found, family))
        axes.text(0.5, -0.16, said, transform=axes.transAxes, fontsize=look.SMALL_SIZE, color=look.SOFT_INK, ha="center", va="top")
        _scale(axes, max([MOST, *(1.3 * point.false_per_minute for point in points)]))
        _curves(axes, found, family, points)
        _baseline(axes, found.baseline[family.state])
    hollow, solid, ring = (_marker(face, size) for face, size in ((look.PAPER, 5), (look.INK, 5), ("none", 12)))
    handles = [solid, hollow, ring]
    labels = ["finds every flight of 120 ms and more", "misses at least one", "as calibrated"]
    look.legend_below(figure, handles, labels)
    return figure


def _title(family: Family) -> str:
    return f"{family.title}: a curve per {_plain(family.line[0])}"


def _plain(name: str) -> str:
    return name.removesuffix("_hz").replace("_", " ")


def _along(found: TradeOff, family: Family) -> str:
    name, values = family.along
    return f"along each: {_plain(name)} from {found.said(name, values[0])} to {found.said(name, values[-1])}"


def _scale(axes: Axes, most: float) -> None:
    axes.set_xscale("symlog", linthresh=LINEAR, linscale=0.5)
    ticks = (0.0, 0.1, 1.0, 10.0)
    axes.set_xticks(ticks, [f"{tick:g}" for tick in ticks])
    axes.set_xlim(-0.02, most)
    axes.set_xlabel("false per minute of grounded driving", fontsize=look.SMALL_SIZE, color=look.SOFT_INK)
    axes.xaxis.set_label_coords(0.5, -0.09)
    axes.set_ylabel("90th percentile of onset after lift-off, ms", fontsize=look.SMALL_SIZE, color=look.SOFT_INK)
    axes.yaxis.set_label_coords(-0.12, 0.5)


def _curves(axes: Axes, found: TradeOff, family: Family, points: Sequence[Point]) -> None:
    name = family.line[0]
    for number, value in enumerate(family.line[1]):
        mine = [point for point in points if point.values[name] == value and np.isfinite(point.p90)]
        colour = look.state_colour(number)
        places = [(point.false_per_minute, 1e3 * point.p90) for point in mine]
        axes.plot([x for x, _ in places], [y for _, y in places], color=colour, linewidth=1.2)
        for point, (x, y) in zip(mine, places, strict=True):
            face = colour if point.found == point.flights else look.PAPER
            axes.plot(x, y, marker="o", markersize=4.5, markerfacecolor=face, markeredgecolor=colour, linestyle="")
        if places:
            said = found.said(name, value)
            axes.annotate(said, places[-1], (5, 3), textcoords="offset points", fontsize=look.SMALL_SIZE, color=colour)


def _baseline(axes: Axes, point: Point) -> None:
    if np.isfinite(point.p90):
        axes.plot(point.false_per_minute, 1e3 * point.p90, marker="o", markersize=12, markerfacecolor="none", markeredgecolor=look.INK)


def _marker(face: str, size: float) -> Line2D:
    return Line2D([], [], marker="o", linestyle="", markersize=size, markerfacecolor=face, markeredgecolor=look.INK)

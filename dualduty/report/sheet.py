"""A page of panels over one shared time span: where they lie, their time axis, their title and legend."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator
from matplotlib.transforms import ScaledTranslation
from numpy.typing import NDArray

from dualduty.report import look, words
from dualduty.report.gather import Curve, Gathered

TOP: Final = 0.60  # inches for title and line beneath
FOOT: Final = 0.12  # inches beneath the last numbers
LEGEND_ROW: Final = 0.19  # inches
LEFT, MIDDLE, RIGHT = 0.105, 0.065, 0.010  # shares of the width
LONG: Final = 900.0  # s; beyond this the time axis counts minutes
STOPS_FILL: Final = "#f6ddd5"


@dataclass(frozen=True)
class Band:
    """A row of the sheet: its height, the room above it, and whether numbers stand under it. [inches]"""

    height: float
    above: float = 0.27
    numbered: bool = False
    columns: int = 2


@dataclass
class Sheet:
    """Panels in bands from the top down, placed by hand: a layout engine would cost more than the drawing."""

    bands: Sequence[Band]
    span: tuple[float, float]
    legend_rows: int = 1
    panels: list[tuple[Axes, Band]] = field(default_factory=list)
    rows: dict[Axes, tuple[Sequence[float], Sequence[str], float]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.height = (
            TOP + FOOT + LEGEND_ROW * self.legend_rows + sum(band.height + band.above + 0.2 * band.numbered for band in self.bands)
        )
        self.figure: Figure = look.new_figure(look.WIDE, self.height)
        length = self.span[1] - self.span[0]
        self.places = {columns: _tick_places(self.span, 12 // columns) for columns in (1, 2)}
        self.words = "time [min]" if length > LONG else "time [s]"

    def panel(self, band: int, column: int = 0, title: str = "", said: str = "") -> Axes:
        """A dressed panel with its time axis."""
        its = self.bands[band]
        down = TOP + sum(b.height + b.above + 0.2 * b.numbered for b in self.bands[:band]) + its.above + its.height
        width = (1.0 - LEFT - RIGHT - MIDDLE * (its.columns - 1)) / its.columns
        place = (LEFT + column * (width + MIDDLE), 1.0 - down / self.height, width, its.height / self.height)
        axes = self.figure.add_axes(place)
        axes.set_axis_off()
        axes.set_xlim(*self.span)
        look.say_panel(axes, title, said)
        self.panels.append((axes, its))
        return axes

    def mark_rows(self, axes: Axes, places: Sequence[float], labels: Sequence[str], size: float = look.TICK_SIZE) -> None:
        """Give a panel its own labels on the left in place of numbers."""
        self.rows[axes] = (places, labels, size)

    def finish(self) -> Figure:
        """Grid, numbers and labels of all panels. Drawn by hand: the library's tick objects cost as much as all the rest."""
        for axes, band in self.panels:
            low, high = axes.get_ylim()
            if axes not in self.rows:
                inner = [place for place in MaxNLocator(3, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high) if low <= place <= high]
                self.rows[axes] = (inner, [words.say_number(place) for place in inner], look.TICK_SIZE)
            places, labels, size = self.rows[axes]
            _grid(axes, self.places[band.columns], places)
            for place, label in zip(places, labels, strict=True):
                self._say(axes, (0.0, place), label, size)
            if band.numbered:
                self._numbers(axes, band)
        return self.figure

    def _numbers(self, axes: Axes, band: Band) -> None:
        scale = 60.0 if self.words.endswith("[min]") else 1.0
        for place in self.places[band.columns]:
            self._say(axes, (place, 0.0), f"{place / scale:g}", look.TICK_SIZE, under=True)
        look.say_under(axes, self.words)

    def _say(self, axes: Axes, place: tuple[float, float], label: str, size: float, *, under: bool = False) -> None:
        """A label left of a height, or beneath a time."""
        along, off = (axes.get_xaxis_transform(), (0.0, -4.0)) if under else (axes.get_yaxis_transform(), (-3.0, 0.0))
        moved = along + ScaledTranslation(off[0] / 72.0, off[1] / 72.0, self.figure.dpi_scale_trans)  # 72 points to the inch
        across, up = ("center", "top") if under else ("right", "center_baseline")
        if label:
            axes.text(*place, look.plain(label), transform=moved, fontsize=size, color=look.INK, ha=across, va=up)

    def title(self, what: str, candidate: Gathered, baseline: Gathered | None) -> None:
        """Say what is drawn, of whom, and how far it may be trusted."""
        told = [f"candidate: {look.shorten(candidate.name, 40)}", f"baseline: {look.shorten(baseline.name, 40)}" if baseline else ""]
        look.say_title(
            self.figure, f"{what}: {look.shorten(candidate.label, 70)}", "; ".join(part for part in [*told, _source(candidate)] if part)
        )


def _grid(axes: Axes, times: NDArray[np.float64], heights: Sequence[float]) -> None:
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    lines = [[(time, low), (time, high)] for time in times] + [[(left, height), (right, height)] for height in heights]
    axes.add_collection(LineCollection(lines, colors=look.GRID, linewidths=0.7, zorder=0.5), autolim=False)
    frame = [[(left, high), (left, low)], [(left, low), (right, low)]]
    axes.add_collection(LineCollection(frame, colors=look.SOFT_INK, linewidths=0.8, zorder=2.5, clip_on=False), autolim=False)


def _source(case: Gathered) -> str:
    if case.source == "simulated":
        return f"simulated; plant against a vehicle: {case.stamp}"
    return f"from a log; motion belongs to the calibration that drove it{': ' + case.driven_by if case.driven_by else ''}"


def _tick_places(span: tuple[float, float], most: int) -> NDArray[np.float64]:
    length = span[1] - span[0]
    if length > LONG:
        step = next((60.0 * minutes for minutes in (2, 5, 10, 20, 30, 60) if length / (60.0 * minutes) <= most), 7200.0)
        places = np.arange(np.ceil(span[0] / step), span[1] / step + 1e-9) * step
    else:
        places = np.asarray(MaxNLocator(most, steps=[1, 2, 5, 10]).tick_values(*span))
    inside = (places >= span[0] - 1e-9) & (places <= span[1] + 1e-9)
    return places[inside]


def draw_pair(axes: Axes, curves: Sequence[Curve | None], row: int, sign: float = 1.0) -> None:
    """Candidate beneath and baseline above it, so that the thin line stays visible where they agree."""
    for curve, style, order in zip(curves, (look.CANDIDATE_LINE, look.BASELINE_LINE), (3, 4), strict=True):
        if curve is not None and curve.values.size:
            axes.plot(curve.time, sign * curve.values[row], zorder=order, **style)


def say_missing(axes: Axes, told: str = "not recorded") -> Axes:
    """An empty panel says that it is empty."""
    axes.text(0.5, 0.5, told, transform=axes.transAxes, ha="center", va="center", fontsize=look.PANEL_SIZE, color=look.SOFT_INK)
    axes.set_ylim(0.0, 1.0)
    return axes


def line_legend(candidate: Gathered, baseline: Gathered | None, *, stops: bool = False) -> tuple[list[Any], list[str]]:
    """Swatches of the two lines, and of the end stops where they are drawn."""
    handles: list[Any] = [Line2D([], [], **look.CANDIDATE_LINE)]
    labels = [f"candidate: {look.shorten(candidate.name, 40)}"]
    if baseline:
        handles.append(Line2D([], [], **look.BASELINE_LINE))
        labels.append(f"baseline: {look.shorten(baseline.name, 40)}")
    if stops:
        handles += [Line2D([], [], **look.STOP_LINE), look.patch(STOPS_FILL)]
        labels += ["full extension, bump stop touched, full compression", "on the bump stop"]
    return handles, labels

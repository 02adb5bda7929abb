"""A page of panels over one shared time span: where they lie, their time axis, their title and legend."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FixedLocator, MaxNLocator, NullFormatter
from numpy.typing import NDArray

from dualduty.report import look
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
    panels: list[Axes] = field(default_factory=list)

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
        axes = look.dress(self.figure.add_axes(place), title, said)
        self._time_axis(axes, its)
        self.panels.append(axes)
        return axes

    def _time_axis(self, axes: Axes, band: Band) -> None:
        places = self.places[band.columns]
        axes.set_xlim(*self.span)
        axes.yaxis.set_major_locator(MaxNLocator(3, steps=[1, 2, 2.5, 5, 10]))
        if not band.numbered:
            axes.xaxis.set_visible(False)
            axes.vlines(places, 0.0, 1.0, transform=axes.get_xaxis_transform(), color=look.GRID, linewidth=0.7, zorder=0.5)
            return
        axes.xaxis.set_major_locator(FixedLocator(list(places)))
        axes.xaxis.set_minor_formatter(NullFormatter())
        scale = 60.0 if self.words.endswith("[min]") else 1.0
        axes.set_xticklabels([f"{place / scale:g}" for place in places])
        look.say_under(axes, self.words)

    def title(self, what: str, candidate: Gathered, baseline: Gathered | None) -> None:
        """Say what is drawn, of whom, and how far it may be trusted."""
        told = [f"candidate: {look.shorten(candidate.name, 40)}", f"baseline: {look.shorten(baseline.name, 40)}" if baseline else ""]
        look.say_title(
            self.figure, f"{what}: {look.shorten(candidate.label, 70)}", "; ".join(part for part in [*told, _source(candidate)] if part)
        )


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
    axes.set_yticks([])
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

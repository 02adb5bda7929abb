"""Logged duties beside the replayed ones: over the whole log how far they lie apart, and the windows where a candidate parts most."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, Protocol

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, LogNorm
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from dualduty.report import look, strips
from dualduty.signals import CORNER_LABELS, SIDES

Array = NDArray[np.float64]

LOGGED_LINE: Final[dict[str, Any]] = {"color": look.INK, "linewidth": 0.9, "linestyle": (0, (1.0, 1.0))}
APART: Final = LinearSegmentedColormap.from_list("apart", ["#f3f4f6", "#e2a72c", "#a8432a", "#23232f"])  # lighter to darker throughout
WORDS: Final = "points of duty by which the logged duty lies outside what was replayed around it, mean of each second; white: not compared"
LEAST, MOST = 0.3, 60.0  # points of duty
CELL: Final = 2.55  # inches of one window, with its titles
DUTY, BELOW, STRIP = 1.15, 0.42, 0.26
TOP: Final = 0.62
LEGEND_ROW: Final = 0.19


class Parting(Protocol):
    """What the picture needs of a window: see dualduty.trial.sameness_parting.Stretch."""

    @property
    def start(self) -> float:
        """[s]"""

    @property
    def end(self) -> float:
        """[s]"""

    @property
    def corner(self) -> int:
        """Index of the corner."""

    @property
    def side(self) -> str:
        """Side of the damper."""

    @property
    def mode(self) -> str:
        """Drive mode."""

    @property
    def apart(self) -> float:
        """Mean difference from the log. [1]"""

    @property
    def time(self) -> Array:
        """(time,) array. [s]"""

    @property
    def logged(self) -> Array:
        """(time,) array. [1]"""

    @property
    def driver(self) -> Array:
        """(time,) array. [1]"""

    @property
    def candidate(self) -> Array:
        """(time,) array. [1]"""

    @property
    def layers(self) -> NDArray[np.int16]:
        """(time,) array of the candidate's layers."""

    @property
    def driver_layers(self) -> NDArray[np.int16]:
        """(time,) array of the driver's layers."""


def draw_agreement(windows: Array, window: float, under: str) -> Figure:
    """How far logged and replayed duties lie apart over the log: a lane per side and corner, (8, window) means of duty [1]."""
    figure = look.new_figure(look.WIDE, 2.75)
    look.say_title(figure, "Logged against replayed duties", under)
    axes = look.dress(figure.add_axes((0.135, 0.10, 0.775, 0.64)), WORDS)
    points = np.where(np.isfinite(windows), np.clip(100.0 * windows, LEAST, MOST), np.nan)
    extent = (0.0, windows.shape[1] * window, float(len(windows)), 0.0)
    image = axes.imshow(points, extent=extent, aspect="auto", interpolation="nearest", cmap=APART, norm=LogNorm(LEAST, MOST), zorder=2)
    axes.grid(visible=False)
    axes.axhline(len(CORNER_LABELS), color=look.PAPER, linewidth=2.0, zorder=3)
    names = [f"{side} {corner}" for side in SIDES for corner in CORNER_LABELS]
    axes.set_yticks(np.arange(len(names)) + 0.5, names, fontsize=look.SMALL_SIZE)
    look.say_under(axes, "time [s]")
    bar = figure.colorbar(image, cax=figure.add_axes((0.925, 0.10, 0.012, 0.64)))
    bar.set_ticks([0.3, 1, 3, 10, 30, 60], labels=["0.3 or less", "1", "3", "10", "30", "60"])
    bar.ax.minorticks_off()
    bar.ax.tick_params(labelsize=look.SMALL_SIZE, length=0.0)
    bar.outline.set_visible(False)
    return figure


def draw_partings(
    stretches: Sequence[Parting], layers: tuple[Sequence[str], Sequence[str]], names: tuple[str, str], under: str = ""
) -> Figure:
    """The windows in two columns: duties of log, driver and candidate, their difference, and who decided in either.

    `layers` and `names` are those of the replayed driver and of the candidate.
    """
    rows = max((len(stretches) + 1) // 2, 1)
    every = tuple(dict.fromkeys([*layers[0], *layers[1]]))
    seen = [name for name in every if any(name in _names(stretch, layers) for stretch in stretches)]
    foot = 0.16 + LEGEND_ROW * (1 + (len(seen) + 7) // 8)
    height = TOP + CELL * rows + foot
    figure = look.new_figure(look.WIDE, height)
    look.say_title(figure, f"Where {names[1]} parts most from the log", under)
    for index, stretch in enumerate(stretches):
        top = height - TOP - CELL * (index // 2)
        _window(figure, (0.07 + 0.49 * (index % 2), top), stretch, layers, every)
    handles: list[Any] = [Line2D([], [], **style) for style in (LOGGED_LINE, look.BASELINE_LINE, look.CANDIDATE_LINE)]
    labels = ["logged", f"replayed: {look.shorten(names[0], 24)}", f"candidate: {look.shorten(names[1], 24)}"]
    handles += [look.patch("#d9e0ea"), *(look.patch(look.layer_colour(every.index(name))) for name in seen)]
    labels += ["candidate less logged", *(look.shorten(name, 22) for name in seen)]
    look.legend_below(figure, handles, labels)
    return figure


def _names(stretch: Parting, layers: tuple[Sequence[str], Sequence[str]]) -> set[str]:
    pairs = ((layers[0], stretch.driver_layers), (layers[1], stretch.layers))
    return {names[index] for names, indices in pairs for index in np.unique(indices).tolist()}


def _window(
    figure: Figure, place: tuple[float, float], stretch: Parting, layers: tuple[Sequence[str], Sequence[str]], every: Sequence[str]
) -> None:
    left, top = place
    height = figure.get_figheight()

    def axes_at(begin: float, high: float, title: str = "") -> Axes:
        axes = look.dress(figure.add_axes((left, (top - begin - high) / height, 0.43, high / height)), title, "%" if title else "")
        axes.set_xlim(float(stretch.time[0]), float(stretch.time[-1]))
        return axes

    where = f"{CORNER_LABELS[stretch.corner]} {stretch.side}, {stretch.mode}: {100.0 * stretch.apart:.0f} points apart on average"
    duties = axes_at(0.22, DUTY, where)
    for values, style in ((stretch.driver, look.BASELINE_LINE), (stretch.candidate, look.CANDIDATE_LINE), (stretch.logged, LOGGED_LINE)):
        duties.plot(stretch.time, 100.0 * values, **style)
    duties.set_ylim(-4.0, 104.0)
    duties.set_yticks([0, 50, 100])
    difference = axes_at(0.22 + DUTY + 0.07, BELOW)
    moved = 100.0 * (stretch.candidate - stretch.logged)
    difference.fill_between(stretch.time, np.nan_to_num(moved), 0.0, color="#d9e0ea", edgecolor=look.CANDIDATE, linewidth=0.7, zorder=3)
    reach = max(float(np.nanmax(np.abs(moved), initial=0.0)), 5.0)
    difference.set_ylim(-1.1 * reach, 1.1 * reach)
    strip = axes_at(0.22 + DUTY + BELOW + 0.14, STRIP)
    _strip(strip, stretch, layers, every)
    for axes in (duties, difference, strip):
        axes.axvspan(stretch.start, stretch.end, color=look.FAINT, zorder=0)
        if axes is not strip:
            axes.tick_params(labelbottom=False)
    strip.xaxis.set_major_locator(MaxNLocator(8, prune="lower"))  # room for the name of the axis
    look.say_under(strip, "time [s]")


def _strip(axes: Axes, stretch: Parting, layers: tuple[Sequence[str], Sequence[str]], every: Sequence[str]) -> None:
    """Who decided: the replayed driver above, the candidate beneath."""
    table = strips.colour_table([look.layer_colour(index) for index in range(len(every))])
    step = float(stretch.time[1] - stretch.time[0]) if len(stretch.time) > 1 else 1.0
    lanes = strips.Lanes(np.append(stretch.time, stretch.time[-1] + step))
    for label, names, indices in (("driver", layers[0], stretch.driver_layers), ("candidate", layers[1], stretch.layers)):
        lanes.add(label, table[np.array([every.index(name) for name in names], np.intp)[indices]][None])
    limits = axes.get_xlim()
    lanes.draw(axes)
    axes.set_xlim(limits)
    axes.grid(visible=False)
    axes.set_yticks(lanes.middles, lanes.labels, fontsize=look.SMALL_SIZE)

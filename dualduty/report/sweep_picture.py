"""A threshold sweep drawn: figures over the value, or as maps over two; the value that is set, and where every gate is kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from dualduty.report.look import (
    BASELINE,
    CANDIDATE,
    INK,
    PANEL_SIZE,
    SMALL_SIZE,
    WIDE,
    dress,
    legend_below,
    new_figure,
    patch,
    plain,
    say_title,
)  # fmt: skip

Array = NDArray[np.float64]
KEPT: Final = "#d3e6d5"
NOW: Final[dict[str, Any]] = {"color": INK, "linewidth": 1.4, "linestyle": (0, (5.0, 2.0))}
NOTHING: Final = "#c9cdd3"
_MAP: Final = LinearSegmentedColormap.from_list("paper to blue", ["#fdf6e3", "#a9cbd8", "#5b8fbd"])  # light enough for the hatching


@dataclass(frozen=True)
class SweptAxis:
    """A swept parameter: its label with the unit, its values, and those that are set. [unit of the label]"""

    label: str
    values: Array
    current: tuple[float, ...]


@dataclass(frozen=True)
class SweptFigures:
    """What is drawn, each (value,) or (value, second value); `kept` is None where the state has no gates."""

    recall: Array  # %
    precision: Array  # %
    false_per_minute: Array
    onset_median: Array  # ms
    onset_p90: Array  # ms
    kept: NDArray[np.bool_] | None


def draw_sweep(title: str, under: str, axes: Sequence[SweptAxis], shown: SweptFigures) -> Figure:
    """Curves for one parameter, maps for two."""
    return _curves(title, under, axes[0], shown) if len(axes) == 1 else _maps(title, under, axes, shown)


def _curves(title: str, under: str, axis: SweptAxis, shown: SweptFigures) -> Figure:
    figure = new_figure(WIDE, 7.2)
    say_title(figure, title, under)
    panels = figure.subplots(3, 1, sharex=True, gridspec_kw={"left": 0.06, "right": 0.985, "top": 0.88, "bottom": 0.14, "hspace": 0.3})
    for panel in panels:
        _shade(panel, axis.values, shown.kept)
        for value in axis.current:
            panel.axvline(value, **NOW)
    first = ((panels[0], shown.recall), (panels[1], shown.false_per_minute), (panels[2], shown.onset_median))
    second = ((panels[0], shown.precision), (panels[2], shown.onset_p90))
    for panel, values in first:
        panel.plot(axis.values, values, color=CANDIDATE, linewidth=1.8, marker="o", markersize=3.0)
    for panel, values in second:
        panel.plot(axis.values, values, color=BASELINE, linewidth=1.6, linestyle=(0, (4.0, 1.6)), marker="s", markersize=3.0)
    dress(panels[0], "Recall and precision", "%").set_ylim(-4.0, 104.0)
    dress(panels[1], "False detections per minute without an event", "1/min").set_ylim(
        bottom=-0.04 * max(float(np.nanmax(shown.false_per_minute, initial=0.0)), 1e-3)
    )
    dress(panels[2], "Onset latency, later than marked is positive", "ms")
    panels[2].set_xlabel(plain(axis.label), fontsize=PANEL_SIZE, color=INK)
    panels[2].margins(x=0.01)
    legend_below(figure, *_keys(shown))
    return figure


def _keys(shown: SweptFigures) -> tuple[list[Any], list[str]]:
    handles: list[Any] = [
        Line2D([], [], color=CANDIDATE, linewidth=1.8, marker="o", markersize=3.0),
        Line2D([], [], color=BASELINE, linewidth=1.6, linestyle=(0, (4.0, 1.6)), marker="s", markersize=3.0),
        Line2D([], [], **NOW),
    ]
    names = ["recall; false per minute; median onset", "precision; 90th percentile of onset", "as the calibration has it"]
    if shown.kept is not None:
        handles.append(patch(KEPT))
        names.append("every gate kept" if shown.kept.any() else "every gate kept: nowhere")
    return handles, names


def _shade(panel: Axes, values: Array, kept: NDArray[np.bool_] | None) -> None:
    """Bands round the values that keep the gates, each as far as half way to its neighbours."""
    if kept is None:
        return
    edges = _edges(values)
    for index in np.flatnonzero(kept):
        panel.axvspan(edges[index], edges[index + 1], color=KEPT, linewidth=0.0, zorder=0)


def _edges(values: Array) -> Array:
    if len(values) == 1:
        return np.array([values[0] - 0.5, values[0] + 0.5])
    middle = 0.5 * (values[1:] + values[:-1])
    return np.concatenate([[2.0 * values[0] - middle[0]], middle, [2.0 * values[-1] - middle[-1]]])


def _maps(title: str, under: str, axes: Sequence[SweptAxis], shown: SweptFigures) -> Figure:
    figure = new_figure(WIDE, 8.6)
    say_title(figure, title, under)
    panels = figure.subplots(2, 2, gridspec_kw={"left": 0.07, "right": 0.97, "top": 0.89, "bottom": 0.13, "hspace": 0.36, "wspace": 0.22})
    most = max(float(np.nanmax(shown.false_per_minute, initial=0.0)), 1.0)
    maps = (
        (shown.recall, "Recall", "%", (0.0, 100.0)), (shown.precision, "Precision", "%", (0.0, 100.0)),
        (shown.false_per_minute, "False detections per minute", "1/min", (0.0, most)),
        (shown.onset_median, "Median onset latency, later than marked is positive", "ms", None),
    )  # fmt: skip
    for panel, (values, name, unit, within) in zip(panels.flat, maps, strict=True):
        _map(figure, panel, axes, values, within)
        if shown.kept is not None:
            _hatch(panel, axes, shown.kept)
        dress(panel, name, unit).grid(visible=False)
        panel.set_xlabel(plain(axes[0].label), fontsize=SMALL_SIZE, color=INK)
        panel.set_ylabel(plain(axes[1].label), fontsize=SMALL_SIZE, color=INK)
        panel.xaxis.set_label_coords(0.5, -0.11)
        panel.yaxis.set_label_coords(-0.09, 0.5)
    handles: list[Any] = [Line2D([], [], color=INK, marker="P", markersize=9.0, markerfacecolor="#ffffff", linewidth=0.0), patch(NOTHING)]
    names = ["as the calibration has it", "no result: out of order, or nothing found"]
    if shown.kept is not None:
        handles.append(patch("#ffffff", hatch="////"))
        names.append("hatched: every gate kept" if shown.kept.any() else "hatched: every gate kept (nowhere)")
    legend_below(figure, handles, names)
    return figure


def _map(figure: Figure, panel: Axes, axes: Sequence[SweptAxis], values: Array, within: tuple[float, float] | None) -> None:
    across, up = _edges(axes[0].values), _edges(axes[1].values)
    panel.set_facecolor(NOTHING)
    low, high = within or (None, None)
    drawn = panel.pcolormesh(across, up, np.ma.masked_invalid(values.T), cmap=_MAP, shading="flat", vmin=low, vmax=high)
    figure.colorbar(drawn, ax=panel, pad=0.015, fraction=0.045).ax.tick_params(labelsize=SMALL_SIZE)
    for x in axes[0].current:
        for y in axes[1].current:
            if across[0] <= x <= across[-1] and up[0] <= y <= up[-1]:
                panel.plot([x], [y], marker="P", markersize=11.0, markerfacecolor="#ffffff", markeredgecolor=INK, linewidth=0.0)


def _hatch(panel: Axes, axes: Sequence[SweptAxis], kept: NDArray[np.bool_]) -> None:
    """Hatch every combination that keeps the gates."""
    across, up = _edges(axes[0].values), _edges(axes[1].values)
    corners = [
        ((across[x], up[y]), (across[x + 1], up[y]), (across[x + 1], up[y + 1]), (across[x], up[y + 1])) for x, y in np.argwhere(kept)
    ]
    panel.add_collection(PolyCollection(corners, facecolors="none", edgecolors=INK, linewidths=0.0, hatch="////"))

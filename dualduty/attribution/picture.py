"""The layers of one corner over time, from the topmost down to the base: how far open, what they asked, which decided."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import to_hex, to_rgb
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from dualduty.attribution.data import Attribution, row_of
from dualduty.attribution.moment import moment
from dualduty.attribution.words import headline, source_words
from dualduty.report import look, strips
from dualduty.report.gather import Strip
from dualduty.report.sheet import Band, Sheet
from dualduty.signals import CORNER_LABELS, SIDES
from dualduty.trace import FLAG_LABELS

Array = NDArray[np.float64]
DUTY_HEIGHT: Final = 1.45  # inches
LAYER_HEIGHT: Final = 0.46
LANE: Final = 0.16
PALE: Final = 0.24  # how much of a layer's colour is left where it is open but does not decide
ASKED_LINE: Final[dict[str, Any]] = {
    "color": look.INK,
    "linewidth": 1.2,
    "path_effects": [withStroke(linewidth=3.0, foreground=look.PAPER)],
}
STACK_LINE: Final[dict[str, Any]] = {"color": look.INK, "linewidth": 1.0, "linestyle": (0, (1.0, 1.4))}
MOMENT_LINE: Final[dict[str, Any]] = {
    "color": look.INK, "linewidth": 1.3, "linestyle": (0, (5.0, 1.8)), "path_effects": [withStroke(linewidth=3.4, foreground=look.PAPER)],
}  # fmt: skip
SAID_LINE: Final = 0.19  # inches of a line of words
DECIDES_BAR: Final = 7.0  # % of a layer's band: a dark foot where it decides, so that it reads in grey and in the sun
LONGEST_LEGEND: Final = 40


def draw_corner(
    told: Attribution, corner: int, sides: Sequence[str] = SIDES, at: float | None = None, other: Attribution | None = None
) -> Figure:
    """One corner, a column per side; `at` marks a moment [s], `other` is a second calibration over the same window."""
    lanes = _state_lanes(told, corner)
    columns = len(sides)
    layer_bands = [Band(LAYER_HEIGHT, 0.20, columns=columns) for _ in told.layers]
    foot = Band(max(len(lanes.labels), 1) * LANE, 0.24, numbered=True, columns=columns)
    said = [] if at is None else [f"at {at:.2f} s: {headline(moment(told, at, corner, side))}" for side in sides]
    words = Band(0.0, SAID_LINE * len(said))
    bands = [words, Band(DUTY_HEIGHT, columns=columns), Band(LANE, 0.22, columns=columns), *layer_bands, foot]
    edges = _edges(told)
    sheet = Sheet(bands, (float(edges[0]), float(edges[-1])))
    for column, side in enumerate(sides):
        _duty_panel(sheet, column, (told, other), row_of(corner, side), f"{side} duty")
        _flag_panel(sheet, column, told, row_of(corner, side))
        for place, index in enumerate(reversed(range(len(told.layers)))):
            _layer_panel(sheet, (3 + place, column), (told, other), index, row_of(corner, side))
        _states_panel(sheet, (3 + len(told.layers), column), lanes)
    if at is not None:
        for axes, _ in sheet.panels:
            axes.axvline(at, zorder=2.5, **MOMENT_LINE)  # above fills, beneath names
    _say(sheet, corner, (told, other), said)
    look.legend_below(sheet.figure, *_legend(told, other, at))
    return sheet.finish()


def _say(sheet: Sheet, corner: int, pair: tuple[Attribution, Attribution | None], said: Sequence[str]) -> None:
    """Title, whose duties these are, and the moment in words, over the whole width."""
    look.say_title(sheet.figure, f"Who asked for what: {CORNER_LABELS[corner]} · {pair[0].label}", _under(*pair))
    for line, sentence in enumerate(said):
        height = 1.0 - (0.56 + SAID_LINE * line) / sheet.height
        sheet.figure.text(0.12 / look.WIDE, height, look.plain(sentence), fontsize=look.PANEL_SIZE + 1.0, color=look.INK, va="top")


def _edges(told: Attribution) -> Array:
    return np.asarray((told.start + np.arange(told.ticks + 1)) * told.dt, float)


def _under(told: Attribution, other: Attribution | None) -> str:
    beside = f"; beside it: {look.shorten(other.candidate, LONGEST_LEGEND)}" if other else ""
    return f"{look.shorten(told.candidate, LONGEST_LEGEND)}{beside}; {source_words(told.source, told.stamp, told.driven_by)}"


def _duty_panel(sheet: Sheet, column: int, pair: tuple[Attribution, Attribution | None], row: int, title: str) -> None:
    """The duty as a line, filled with the colour of the layer that decided."""
    told, other = pair
    axes = sheet.panel(1, column, title, "%")
    time, duty = told.time, 100.0 * told.duty[row]
    for index in np.unique(told.decider[row]):
        _fill(axes, time, duty, told.decider[row] == index, look.layer_colour(int(index)))
    if not np.array_equal(told.duty[row], told.stack[row]):
        axes.plot(time, 100.0 * told.stack[row], zorder=4, **STACK_LINE)
    axes.plot(time, duty, zorder=5, **{**look.CANDIDATE_LINE, "color": look.INK})
    if other is not None:
        axes.plot(other.time, 100.0 * other.duty[row], zorder=5, **look.BASELINE_LINE)
    axes.set_ylim(0.0, 105.0)
    names = {index: (f"{index + 1} {layer.name}", look.layer_colour(index)) for index, layer in enumerate(told.layers)}
    strips.write_names(axes, told.decider[row], _edges(told), 6.0, names)


def _fill(axes: Axes, time: Array, heights: Array, where: NDArray[np.bool_], colour: str) -> None:
    axes.fill_between(time, 0.0, heights, where=where, step="post", color=colour, linewidth=0, zorder=2)


def _flag_panel(sheet: Sheet, column: int, told: Attribution, row: int) -> None:
    axes = sheet.panel(2, column, "" if column else "what the supervisor did")
    lanes = strips.Lanes(_edges(told))
    colours = strips.colour_table([look.FLAG_COLOURS.get(FLAG_LABELS[flag], look.INK) for flag in strips.GRAVEST_LAST])
    worst = strips.gravest(told.flags[row])
    lanes.add("" if column else "flags", colours[worst][None])
    lanes.draw(axes)
    labels = [FLAG_LABELS[flag] for flag in strips.GRAVEST_LAST]
    names = {place: (label, look.FLAG_COLOURS.get(label, look.INK)) for place, label in enumerate(labels)}
    strips.write_names(axes, worst, _edges(told), 0.5, names)
    sheet.mark_rows(axes, lanes.middles, lanes.labels, look.SMALL_SIZE)


def _layer_panel(sheet: Sheet, place: tuple[int, int], pair: tuple[Attribution, Attribution | None], index: int, row: int) -> None:
    """How far a layer is open as a filled height, strong where it decides; what it asks as a line on the same scale."""
    told, other = pair
    axes = sheet.panel(*place, _layer_title(told, index), "" if place[1] else "%")
    share, asked, decides = 100.0 * told.share[index, row], 100.0 * told.asked[index, row], told.decider[row] == index
    colour = look.layer_colour(index)
    _fill(axes, told.time, share, ~decides, _pale(colour))
    _fill(axes, told.time, share, decides, colour)
    _fill(axes, told.time, np.full(told.ticks, DECIDES_BAR), decides, look.INK)
    if np.isnan(asked).all():
        axes.text(0.5, 0.5, "leaves this side alone", transform=axes.transAxes, ha="center", va="center", fontsize=look.SMALL_SIZE,
                  color=look.SOFT_INK, zorder=5)  # fmt: skip
    else:
        axes.plot(told.time, asked, zorder=5, **ASKED_LINE)
    names = [layer.name for layer in other.layers] if other else []
    if other is not None and told.layers[index].name in names:
        axes.plot(other.time, 100.0 * other.asked[names.index(told.layers[index].name), row], zorder=5, **look.BASELINE_LINE)
    least = 0.0 if np.isnan(asked).all() else min(0.0, 1.1 * float(np.nanmin(asked)))
    axes.set_ylim(least, 108.0)
    sheet.mark_rows(axes, [0.0, 100.0], ["0", "100"], look.SMALL_SIZE)


def _layer_title(told: Attribution, index: int) -> str:
    layer = told.layers[index]
    gate = f", opened by {', '.join(layer.when)}" if layer.when else ", always open" if not layer.unless else ""
    closed = f", not while {', '.join(layer.unless)}" if layer.unless else ""
    at = f", at {', '.join(layer.corners)}" if layer.corners else ""
    return look.shorten(f"{index + 1} {layer.name}: {layer.act}{at}{gate}{closed}".replace("_", " "), 84)


def _pale(colour: str) -> str:
    red, green, blue = (1.0 - PALE * (1.0 - part) for part in to_rgb(colour))
    return str(to_hex((red, green, blue)))


def _state_lanes(told: Attribution, corner: int) -> strips.Lanes:
    """States that open or close layers, and others that were active at all, as they are at this corner."""
    gates = {name for layer in told.layers for name in (*layer.when, *layer.unless)}
    lanes = strips.Lanes(_edges(told))
    for place, (name, values) in enumerate(told.states.items()):
        here = values[corner : corner + 1] if len(values) > 1 else values
        if name in gates or here.any():
            lanes.add(name.replace("_", " "), strips.state_cells(Strip(lanes.edges, here), lanes.edges, look.state_colour(place)))
    return lanes


def _states_panel(sheet: Sheet, place: tuple[int, int], lanes: strips.Lanes) -> None:
    axes = sheet.panel(*place, "" if place[1] else "states, as they are at this corner")
    lanes.draw(axes)
    sheet.mark_rows(axes, lanes.middles, [""] * len(lanes.labels) if place[1] else lanes.labels, look.SMALL_SIZE)


def _legend(told: Attribution, other: Attribution | None, at: float | None) -> tuple[list[Any], list[str]]:
    strong = look.layer_colour(min(1, len(told.layers) - 1))
    handles: list[Any] = [
        look.patch(strong), look.patch(_pale(strong)), Line2D([], [], color=look.INK, linewidth=1.2), Line2D([], [], **STACK_LINE),
    ]  # fmt: skip
    labels = ["decides (height: how far open)", "open, does not decide", "duty; in a layer: duty it asks for", "duty before the supervisor"]
    if other is not None:
        handles.append(Line2D([], [], **look.BASELINE_LINE))
        labels.append(look.shorten(other.candidate, LONGEST_LEGEND))
    if at is not None:
        handles.append(Line2D([], [], **MOMENT_LINE))
        labels.append(f"{at:.2f} s")
    return handles, labels

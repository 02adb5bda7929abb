"""What happened, over time: the vehicle's motion, and what each corner was told to do and by which layer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, Protocol

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from dualduty.report import look, strips, words
from dualduty.report.gather import Gathered, gather
from dualduty.report.sheet import STOPS_FILL, Band, Sheet, draw_pair, line_legend, say_missing
from dualduty.signals import CORNER_LABELS, SIDES
from dualduty.trace import Trace

STATE_LANE: Final = 0.175  # inches
TITLES: Final[Mapping[str, str]] = {"speed": "speed", "vertical": "vertical acceleration", "roll": "roll", "pitch": "pitch"}
Pair = tuple[Gathered, Gathered | None]


class EndStops(Protocol):
    """What the travel panels need of a car: arrays over the corners."""

    @property
    def stroke(self) -> NDArray[Any]:
        """Shaft travel at full compression, (4,) array. [m]"""

    @property
    def bump_contact(self) -> NDArray[Any]:
        """Shaft travel at which the bump stop is touched, (4,) array. [m]"""


def draw_case(
    trace: Trace,
    candidate: int,
    baseline: int | None = None,
    car: EndStops | None = None,
    window: tuple[float, float] = (0.0, float("inf")),
) -> dict[str, Figure]:
    """Both pictures of one case, `motion` and `duties`, with another case of the same trace as baseline; `window` in seconds."""
    found = gather(trace, [candidate] if baseline is None else [candidate, baseline], window)
    before = found[1] if baseline is not None else None
    return {"motion": draw_overview(found[0], before, car), "duties": draw_duties(found[0], before)}


def draw_overview(candidate: Gathered, baseline: Gathered | None = None, car: EndStops | None = None) -> Figure:
    """Speed, vertical acceleration, travel at each corner, roll, pitch and states of one case, baseline beside it."""
    lanes = strips.state_lanes(candidate, baseline)
    sheet = Sheet([Band(1.05), Band(1.4), Band(1.4), Band(1.05, numbered=True), _states_band(lanes)], candidate.span)
    pair = (candidate, baseline)
    for key, place in {"speed": (0, 0), "vertical": (0, 1), "roll": (3, 0), "pitch": (3, 1)}.items():
        _line_panel(sheet, place, pair, key)
    for corner in range(len(CORNER_LABELS)):
        _travel_panel(sheet, corner, pair, car)
    _states_panel(sheet, 4, lanes, pair)
    sheet.title("Motion", *pair)
    look.legend_below(sheet.figure, *line_legend(*pair, stops=car is not None and "travel" in candidate.curves))
    return sheet.finish()


def draw_duties(candidate: Gathered, baseline: Gathered | None = None) -> Figure:
    """Duties of both sides at each corner, the layer that decided, supervisor flags, and the states that open layers."""
    lanes = strips.state_lanes(candidate, baseline)
    bands = [Band(1.55), Band(0.66, 0.26), Band(1.55), Band(0.66, 0.26, numbered=True), _states_band(lanes)]
    pair, names = (candidate, baseline), strips.layer_names(candidate, baseline)
    handles, labels = _duty_legend(candidate, baseline, names)
    sheet = Sheet(bands, candidate.span, legend_rows=-(-len(labels) // 8))
    for corner in range(len(CORNER_LABELS)):
        _duty_panel(sheet, corner, pair)
        _layer_panel(sheet, corner, names, pair)
    _states_panel(sheet, 4, lanes, pair)
    sheet.title("Duties and deciding layers", *pair)
    look.legend_below(sheet.figure, handles, labels)
    return sheet.finish()


def _states_band(lanes: strips.Lanes) -> Band:
    return Band(max(len(lanes.labels), 1) * STATE_LANE, numbered=True, columns=1)


def _states_panel(sheet: Sheet, band: int, lanes: strips.Lanes, pair: Pair) -> Axes:
    candidate, baseline = pair
    told = "states; by corner: front-left, front-right, rear-left, rear-right from the top"
    under = "; line beneath: baseline, where it differs" if baseline else ""
    axes = sheet.panel(band, 0, told + under if lanes.labels else "states")
    if not lanes.labels:
        sheet.mark_rows(axes, [], [])
        return say_missing(axes, "no states published")
    lanes.draw(axes)
    sheet.mark_rows(axes, lanes.middles, lanes.labels, look.SMALL_SIZE)
    if lanes.labels[0] == strips.MODE_LANE:
        names = {place: (name, strips.MODE_COLOURS[place % len(strips.MODE_COLOURS)]) for place, name in enumerate(candidate.modes)}
        strips.write_names(axes, candidate.mode.values[0], lanes.edges, 0.5, names)
    return axes


def _line_panel(sheet: Sheet, place: tuple[int, int], pair: Pair, key: str) -> Axes:
    curves = [case.curves.get(key) if case else None for case in pair]
    curve = curves[0] or curves[1]
    if curve is None:
        return say_missing(sheet.panel(*place, TITLES[key]))
    axes = sheet.panel(*place, curve.title, curve.said)
    if curves[1] is not None and curves[1].title != curve.title:
        curves[1] = None  # another quantity must not be drawn as if it were the same
    for row in range(curve.values.shape[0]):
        draw_pair(axes, curves, row)
    return axes


def _travel_panel(sheet: Sheet, corner: int, pair: Pair, car: EndStops | None) -> Axes:
    curves = [case.curves.get("travel") if case else None for case in pair]
    curve = curves[0] or curves[1]
    title = f"{CORNER_LABELS[corner]} shaft travel"
    axes = sheet.panel(1 + corner // 2, corner % 2, title, curve.said if curve else "")
    if curve is None:
        return say_missing(axes)
    draw_pair(axes, curves, corner)
    if car is not None:
        contact, stroke = (np.broadcast_to(np.ravel(value), (4,))[corner] * 1e3 for value in (car.bump_contact, car.stroke))
        _end_stops(axes, float(contact), float(stroke))
    return axes


def _end_stops(axes: Axes, contact: float, stroke: float) -> None:
    axes.axhspan(contact, stroke, color=STOPS_FILL, zorder=0, linewidth=0)
    for height in (0.0, contact, stroke):
        axes.axhline(height, **look.STOP_LINE)
    low, high = axes.get_ylim()
    axes.set_ylim(min(low, -0.06 * stroke), max(high, 1.06 * stroke))


def _duty_panel(sheet: Sheet, corner: int, pair: Pair) -> None:
    """Compression upward and rebound downward from the middle: both commands of a damper in one look."""
    axes = sheet.panel(2 * (corner // 2), corner % 2, f"{CORNER_LABELS[corner]}: compression duty up, rebound down", "%")
    for side, sign in zip(SIDES, (1.0, -1.0), strict=True):
        curves = [case.duty.get(side) if case else None for case in pair]
        draw_pair(axes, curves, corner, sign)
        curve = curves[0]
        if curve is not None and curve.values.size:
            axes.fill_between(curve.time, 0.0, sign * curve.values[corner], color=look.CANDIDATE, alpha=0.10, linewidth=0)
    axes.axhline(0.0, color=look.SOFT_INK, linewidth=0.7)
    axes.set_ylim(-105, 105)
    sheet.mark_rows(axes, [-100, -50, 0, 50, 100], ["100", "50", "0", "50", "100"])


def _layer_title(case: Gathered) -> str:
    cell = words.say(case.cell, "s") if case.cell >= 1.0 else words.say(case.cell * 1e3, "ms")
    return f"deciding layer (topmost in {cell}), flags"


def _layer_panel(sheet: Sheet, corner: int, names: Sequence[str], pair: Pair) -> None:
    candidate, baseline = pair
    left = corner % 2 == 0  # the right side repeats the lanes of the left
    axes = sheet.panel(2 * (corner // 2) + 1, corner % 2, _layer_title(candidate) if left else "")
    lanes = strips.Lanes(candidate.mode.edges)
    numbers = {own: _number(names.index(name)) for own, name in enumerate(candidate.layers) if own > 0}
    for lane, side in enumerate(side for side in SIDES if side in candidate.layer):
        cells = strips.layer_cells(candidate, side, names, lanes.edges)[corner : corner + 1]
        beneath = strips.layer_cells(baseline, side, names, lanes.edges)[corner] if baseline and side in baseline.layer else None
        lanes.add(side if left else "", cells, beneath)
        strips.write_names(axes, candidate.layer[side].values[corner], lanes.edges, lane + (0.36 if baseline else 0.5), numbers)
    if candidate.flags:
        lanes.add("flags" if left else "", strips.flag_cells(candidate, corner, lanes.edges))
    lanes.draw(axes)
    sheet.mark_rows(axes, lanes.middles, lanes.labels, look.SMALL_SIZE)


def _number(place: int) -> tuple[str, str]:
    return str(place + 1), look.layer_colour(place)


def _duty_legend(candidate: Gathered, baseline: Gathered | None, names: Sequence[str]) -> tuple[list[Any], list[str]]:
    handles, labels = line_legend(candidate, baseline)
    for index, name in enumerate(names):
        handles.append(look.patch(look.layer_colour(index)))
        labels.append(f"{index + 1} {look.shorten(name, 26)}")
    for flag in strips.flags_seen(candidate, baseline):
        handles.append(look.patch(look.FLAG_COLOURS[flag]))
        labels.append(f"flag: {flag}")
    return handles, labels

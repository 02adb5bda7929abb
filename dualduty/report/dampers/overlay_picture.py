"""Pictures of sheets over each other: forces with the corridor, and the deviation from its middle, odd ranges marked."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from dualduty.dyno.overlay import AXLES, Comparison, Layer, Odd, corner_label
from dualduty.report import look
from dualduty.report.dampers import picture_parts as parts
from dualduty.signals import SIDES

_PERCENT_STEP: Final = 5.0
_LEAST_PERCENT: Final = 10.0


def draw_overlay(found: Comparison) -> Figure:
    """Force over shaft speed, axles down, soft to firm across; compression up, rebound down."""
    axles = [axle for axle in AXLES if found.layer(axle, SIDES[0]) is not None]
    first = found.layers[0]
    columns = parts.middle_duties(first.duties)
    figure, board = parts.panels(len(axles), len(columns), 3.4)
    look.say_title(figure, "Dampers laid over each other", _summary(found))
    for axle, row in zip(axles, board, strict=True):
        layers = [layer for layer in found.layers if layer.axle == axle]
        for duty, axes in zip(first.duties[list(columns)], row, strict=True):
            _force_panel(axes, layers, duty, found)
            look.dress(axes, f"{axle}, {100 * duty:.0f} % duty: compression up, rebound down", "kN")
            look.say_under(axes, "m/s")
    look.legend_below(figure, *_legend(found), columns=6)
    return figure


def draw_deviation(found: Comparison) -> Figure:
    """Deviation from the middle of the corridor over shaft speed, axles down, compression left and rebound right."""
    axles = [axle for axle in AXLES if found.layer(axle, SIDES[0]) is not None]
    figure, board = parts.panels(len(axles), len(SIDES))
    look.say_title(figure, "How far each damper is from its group", _summary(found))
    for axle, row in zip(axles, board, strict=True):
        for side, axes in zip(SIDES, row, strict=True):
            layer = found.layer(axle, side)
            if layer is not None:
                _deviation_panel(axes, layer, [odd for odd in found.odd if (odd.side, odd.corner.split("_")[0]) == (side, axle)])
    look.legend_below(figure, *_legend(found), columns=6)
    return figure


def _summary(found: Comparison) -> str:
    if not found.odd:
        return "all within the corridor"
    told = "; ".join(odd.sentence().split(" (against")[0].split(";")[0] for odd in found.odd[:2])
    return told + (f"; and {len(found.odd) - 2} more" if len(found.odd) > 2 else "")  # noqa: PLR2004 - two fit the line


def _force_panel(axes: Axes, layers: list[Layer], duty: float, found: Comparison) -> None:
    for layer in layers:
        sign, column = parts.SIGN[layer.side], int(np.argmin(np.abs(layer.duties - duty)))
        speeds, middle = parts.with_zero(layer.speeds), layer.reference[:, column] / 1e3
        half = middle * layer.width[:, :, column].max(axis=0)
        low, high = (sign * parts.with_zero(edge) for edge in (middle - half, middle + half))
        axes.fill_between(speeds, low, high, color=parts.CORRIDOR, linewidth=0.0, zorder=1)
        for place, force in enumerate(layer.forces[:, :, column] / 1e3):
            axes.plot(speeds, sign * parts.with_zero(force), linewidth=1.1, markersize=3.0, zorder=3, **parts.damper_line(place))
    for odd in found.odd:
        _mark_force(axes, odd, layers, duty)
    axes.axhline(0.0, color=look.SOFT_INK, linewidth=0.7)


def _mark_force(axes: Axes, odd: Odd, layers: list[Layer], duty: float) -> None:
    """A thick pale band under the odd stretch, with the serial at its end."""
    layer = next((each for each in layers if each.side == odd.side and odd.corner.startswith(each.axle)), None)
    if layer is None or not odd.region.low_duty <= duty <= odd.region.high_duty:
        return
    place = [sheet.serial for sheet in layer.sheets].index(odd.serial)
    rows = (layer.speeds >= odd.region.low_speed) & (layer.speeds <= odd.region.high_speed)
    force = parts.SIGN[odd.side] * layer.forces[place, rows, int(np.argmin(np.abs(layer.duties - duty)))] / 1e3
    axes.plot(layer.speeds[rows], force, color=parts.ODD, linewidth=6.0, alpha=0.3, solid_capstyle="round", zorder=2)
    upper = odd.side == "compression"
    axes.annotate(f"{odd.serial} {odd.region.signed}", (0.03, 0.97 if upper else 0.03), xycoords="axes fraction", fontsize=look.TICK_SIZE,
                  color=parts.ODD, fontweight="bold", va="top" if upper else "bottom")  # fmt: skip


def _deviation_panel(axes: Axes, layer: Layer, odd_ones: list[Odd]) -> None:
    half = 100.0 * np.median(layer.width.max(axis=0), axis=1) * (0.5 if layer.against == "pair" else 1.0)  # either is half off the mean
    axes.fill_between(layer.speeds, -half, half, color=parts.CORRIDOR, linewidth=0.0, zorder=1)
    middle = 100.0 * np.median(layer.deviation, axis=2)
    for place, line in enumerate(middle):
        axes.plot(layer.speeds, line, linewidth=1.3, markersize=4.0, zorder=3, **parts.damper_line(place))
    reach = max(_LEAST_PERCENT, _PERCENT_STEP * np.ceil(1.15 * max(float(np.abs(middle).max()), float(half.min())) / _PERCENT_STEP))
    axes.set_ylim(-reach, reach)
    axes.axhline(0.0, color=look.SOFT_INK, linewidth=0.7)
    for odd in odd_ones:
        _mark_range(axes, odd, layer, middle)
    parts.speed_axis(axes, layer.speeds)
    against = "the mean of both" if layer.against == "pair" else layer.against
    look.dress(axes, f"{layer.axle} {layer.side} against {against}, median over duties", "%")


def _mark_range(axes: Axes, odd: Odd, layer: Layer, middle: Any) -> None:
    place = [sheet.serial for sheet in layer.sheets].index(odd.serial)
    rows = (layer.speeds >= odd.region.low_speed) & (layer.speeds <= odd.region.high_speed)
    axes.plot(layer.speeds[rows], middle[place, rows], color=parts.ODD, linewidth=7.0, alpha=0.3, solid_capstyle="round", zorder=2)
    weak = odd.region.size < 0.0
    axes.annotate(
        f"{odd.serial} {odd.region.signed}{_beside(odd)}",
        (layer.speeds[rows][0], middle[place, rows][0]), (-6, -4 if weak else 4), textcoords="offset points", fontsize=look.TICK_SIZE,
        color=parts.ODD, fontweight="bold", ha="right", va="top" if weak else "bottom",
    )  # fmt: skip


def _beside(odd: Odd) -> str:
    """What else belongs to the number: the other one of a pair, or the duty."""
    if odd.other:
        return f" to {odd.other}"
    return "" if odd.region.every_duty else f", from {100 * odd.region.low_duty:.0f} % duty"


def _legend(found: Comparison) -> tuple[list[Any], list[str]]:
    handles: list[Any] = []
    labels: list[str] = []
    for axle in AXLES:
        layer = found.layer(axle, SIDES[0])
        for place, sheet in enumerate(layer.sheets if layer is not None else ()):
            parts.legend_line(f"{sheet.serial} {corner_label(sheet.corner)}, {sheet.vehicle}", handles, labels, **parts.damper_line(place))
    handles += [look.patch(parts.CORRIDOR), look.patch(parts.ODD, alpha=0.3)]
    return handles, [*labels, "corridor", "outside"]

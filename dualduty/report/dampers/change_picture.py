"""Picture of one damper before and after: forces at the tested duties, and the change with the corridor of scatter."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from dualduty.dyno.change import Change, SideChange
from dualduty.dyno.overlay import corner_label
from dualduty.report import look
from dualduty.report.dampers import picture_parts as parts


def draw_change(found: Change) -> Figure:
    """Forces left, change over shaft speed right; a row a side."""
    figure, board = parts.panels(2, 2)
    before, after = found.before, found.after
    who = before.serial if before.serial == after.serial else f"{before.serial} and {after.serial}"
    look.say_title(figure, f"{who} {corner_label(after.corner)} before and after", "; ".join(found.sentences()[:2]))
    for side, (left, right) in zip(found.sides, board, strict=True):
        _forces(left, side)
        _change(right, side)
    look.legend_below(figure, *_legend(found), columns=5)
    return figure


def _forces(axes: Axes, side: SideChange) -> None:
    for column in parts.middle_duties(side.duties):
        for force, style in ((side.before, look.BASELINE_LINE), (side.after, look.CANDIDATE_LINE)):
            axes.plot(parts.with_zero(side.speeds), parts.with_zero(force[:, column]) / 1e3, marker="o", markersize=2.5, **style)
    parts.duty_labels(axes, side.speeds, side.duties, side.after / 1e3)
    look.dress(axes, f"{side.side} force", "kN")
    look.say_under(axes, "m/s")


def _change(axes: Axes, side: SideChange) -> None:
    half = 100.0 * np.median(side.width, axis=1)
    axes.fill_between(side.speeds, -half, half, color=parts.CORRIDOR, linewidth=0.0, zorder=1)
    for column, duty in enumerate(side.duties):
        axes.plot(
            side.speeds, 100.0 * side.change[:, column], color=look.CANDIDATE, linestyle=parts.duty_line(duty), linewidth=1.2, zorder=3
        )
    for region in side.regions:
        axes.axvspan(region.low_speed, region.high_speed, color=parts.ODD, alpha=0.10, linewidth=0.0, zorder=0)
    parts.fit_height(axes, 100.0 * side.change, half, -half, least=5.0)
    axes.axhline(0.0, color=look.SOFT_INK, linewidth=0.7)
    parts.speed_axis(axes, side.speeds)
    look.dress(axes, f"{side.side}, after against before", "%")


def _legend(found: Change) -> tuple[list[Any], list[str]]:
    handles: list[Any] = []
    labels: list[str] = []
    for name, style, sheet in (("before", look.BASELINE_LINE, found.before), ("after", look.CANDIDATE_LINE, found.after)):
        parts.legend_line(f"{name}: {sheet.file.name}", handles, labels, **{key: style[key] for key in ("color", "linestyle")})
    for duty in found.sides[0].duties:
        parts.legend_line(f"{100 * duty:.0f} % duty", handles, labels, color=look.CANDIDATE, linestyle=parts.duty_line(duty))
    handles += [look.patch(parts.CORRIDOR), look.patch(parts.ODD, alpha=0.15)]
    return handles, [*labels, "repeats and re-mounting", "changed"]

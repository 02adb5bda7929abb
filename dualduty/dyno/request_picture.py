"""Pictures of a request: the asked map against its base, and what came against what was asked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from dualduty.dyno import picture_parts as parts
from dualduty.dyno.common_grid import sample
from dualduty.dyno.overlay import corner_label
from dualduty.dyno.request_answer import Answer, Compared
from dualduty.dyno.request_target import Target
from dualduty.report import look

Array = NDArray[np.float64]


def draw_request(name: str, targets: Sequence[Target]) -> Figure:
    """Forces of base and asked map left, the change in % right; a row for each map that a wish changes."""
    changed = [target for target in targets if target.wishes]
    figure, board = parts.panels(len(changed), 2)
    look.say_title(figure, f"Asked: {name}", "; ".join(dict.fromkeys(wish.asked for target in changed for wish in target.wishes)))
    for target, (left, right) in zip(changed, board, strict=True):
        speeds, duties = target.map.speeds[1:], target.map.duties
        base, asked = (sample(each, speeds, duties) for each in (target.base.map, target.map))
        _forces(left, speeds, duties, ((base, look.BASELINE_LINE), (asked, look.CANDIDATE_LINE)))
        look.dress(left, f"{target.base.label} force", "kN")
        _shares(right, speeds, duties, asked / np.maximum(base, 1.0) - 1.0)
        look.dress(right, f"{target.base.label}, asked against base", "%")
    handles, labels = _lines((("base", look.BASELINE_LINE), ("asked", look.CANDIDATE_LINE)))
    _duty_legend(handles, labels, changed[0].map.duties)
    look.legend_below(figure, handles, labels)
    return figure


def draw_answer(found: Answer) -> Figure:
    """Asked and delivered change in % against the base, a row for each damper, compression left and rebound right."""
    serials = list(dict.fromkeys(one.sheet.serial for one in found.compared))
    figure, board = parts.panels(len(serials), 2, 2.5)
    outcome = [f"{sum(one.met for one in found.deliveries)} of {len(found.deliveries)} wishes met", f"{len(found.unasked)} not asked for"]
    look.say_title(figure, f"Delivered: {found.request.name}", ", ".join(outcome))
    for serial, row in zip(serials, board, strict=True):
        for side, axes in zip(parts.SIGN, row, strict=True):
            one = next(one for one in found.compared if one.sheet.serial == serial and one.target.base.side == side)
            _answer_panel(axes, one, found)
    handles, labels = _lines((("asked", look.BASELINE_LINE), ("delivered", look.CANDIDATE_LINE)))
    handles += [look.patch(parts.CORRIDOR), look.patch(parts.ODD, alpha=0.15)]
    look.legend_below(figure, handles, [*labels, "tolerance at the firm end", "moved, not asked for"])
    return figure


def _answer_panel(axes: Axes, one: Compared, found: Answer) -> None:
    base = np.maximum(one.base, 1.0)
    asked, delivered = (100.0 * (forces / base - 1.0) for forces in (one.asked, one.delivered))
    tolerance = min([wish.tolerance for wish in one.target.wishes] or [found.request.unasked])
    half = 100.0 * tolerance * one.asked[:, -1] / base[:, -1]
    axes.fill_between(one.speeds, asked[:, -1] - half, asked[:, -1] + half, color=parts.CORRIDOR, linewidth=0.0, zorder=1)
    for column in parts.middle_duties(one.duties):
        for values, style in ((asked, look.BASELINE_LINE), (delivered, look.CANDIDATE_LINE)):
            axes.plot(one.speeds, values[:, column], zorder=3, **style)
        axes.annotate(f"{100 * one.duties[column]:.0f} %", (one.speeds[-1], delivered[-1, column]), (3, 0), textcoords="offset points",
                      fontsize=look.SMALL_SIZE, color=look.SOFT_INK, va="center")  # fmt: skip
    for unasked in found.unasked:
        if (unasked.serial, unasked.side) == (one.sheet.serial, one.target.base.side):
            axes.axvspan(unasked.region.low_speed, unasked.region.high_speed, color=parts.ODD, alpha=0.12, linewidth=0.0, zorder=0)
    reach = 1.2 * max(8.0, float(np.abs(asked).max()), float(np.abs(delivered).max()))
    axes.set_ylim(-reach, reach)
    axes.axhline(0.0, color=look.SOFT_INK, linewidth=0.7)
    parts.speed_axis(axes, one.speeds)
    look.dress(axes, f"{one.sheet.serial} {corner_label(one.sheet.corner)} {one.target.base.side} against base", "%")


def _forces(axes: Axes, speeds: Array, duties: Array, pairs: tuple[tuple[Array, dict[str, Any]], ...]) -> None:
    for column in parts.middle_duties(duties):
        for force, style in pairs:
            axes.plot(parts.with_zero(speeds), parts.with_zero(force[:, column]) / 1e3, **style)
        axes.annotate(f"{100 * duties[column]:.0f} % duty", (speeds[-1], pairs[-1][0][-1, column] / 1e3), (0, 4), textcoords="offset points",
                      fontsize=look.SMALL_SIZE, color=look.SOFT_INK, ha="right", va="bottom")  # fmt: skip
    look.say_under(axes, "m/s")


def _shares(axes: Axes, speeds: Array, duties: Array, shares: Array) -> None:
    for column, duty in enumerate(duties):
        axes.plot(speeds, 100.0 * shares[:, column], color=look.CANDIDATE, linestyle=parts.duty_line(duty), linewidth=1.3)
    axes.axhline(0.0, color=look.SOFT_INK, linewidth=0.7)
    parts.speed_axis(axes, speeds)


def _lines(named: Sequence[tuple[str, dict[str, Any]]]) -> tuple[list[Any], list[str]]:
    handles: list[Any] = []
    labels: list[str] = []
    for name, style in named:
        parts.legend_line(name, handles, labels, color=style["color"], linestyle=style["linestyle"])
    return handles, labels


def _duty_legend(handles: list[Any], labels: list[str], duties: Array) -> None:
    for duty in duties:
        parts.legend_line(f"{100 * duty:.0f} % duty", handles, labels, color=look.CANDIDATE, linestyle=parts.duty_line(duty))

"""Pictures of a request: the asked map against its base, and what came against what was asked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from dualduty.dyno.common_grid import sample
from dualduty.dyno.overlay import corner_label
from dualduty.dyno.request_answer import Answer, Compared
from dualduty.dyno.request_target import Target
from dualduty.report import look
from dualduty.report.dampers import picture_parts as parts

Array = NDArray[np.float64]

_MOST_LETTERS: Final = 190  # that fit beneath the title
_ON_TOP: Final = 4  # dashes over a whole line show both where they agree


def draw_request(name: str, targets: Sequence[Target]) -> Figure:
    """Forces of base and asked map left, the change in % right; a row for each map that a wish changes."""
    changed = [target for target in targets if target.wishes]
    figure, board = parts.panels(len(changed), 2)
    wishes = dict.fromkeys(wish.short for target in changed for wish in target.wishes)
    look.say_title(figure, f"Asked: {name}", look.shorten("; ".join(wishes), _MOST_LETTERS))
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
    """Asked and delivered change in % against the base, a row for each damper that has to do with it, compression left."""
    moved = {one.serial for one in found.unasked}
    told = [one.sheet.serial for one in found.compared if one.target.wishes or one.sheet.serial in moved]
    serials = list(dict.fromkeys(told)) or [found.compared[0].sheet.serial]
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
        axes.plot(one.speeds, delivered[:, column], **look.CANDIDATE_LINE)
        axes.plot(one.speeds, asked[:, column], **look.BASELINE_LINE, zorder=_ON_TOP)
    for unasked in found.unasked:
        if (unasked.serial, unasked.side) == (one.sheet.serial, one.target.base.side):
            axes.axvspan(unasked.region.low_speed, unasked.region.high_speed, color=parts.ODD, alpha=0.12, linewidth=0.0, zorder=0)
    firm = asked[:, -1]
    parts.fit_height(axes, firm - half, firm + half, asked, delivered, least=8.0)
    parts.duty_labels(axes, one.speeds, one.duties, delivered)
    axes.axhline(0.0, color=look.SOFT_INK, linewidth=0.7)
    parts.speed_axis(axes, one.speeds)
    look.dress(axes, f"{one.sheet.serial} {corner_label(one.sheet.corner)} {one.target.base.side} against base", "%")


def _forces(axes: Axes, speeds: Array, duties: Array, pairs: tuple[tuple[Array, dict[str, Any]], ...]) -> None:
    (base, base_style), (asked, asked_style) = pairs
    for column in parts.middle_duties(duties):
        axes.plot(parts.with_zero(speeds), parts.with_zero(asked[:, column]) / 1e3, **asked_style)
        axes.plot(parts.with_zero(speeds), parts.with_zero(base[:, column]) / 1e3, **base_style, zorder=_ON_TOP)
    parts.duty_labels(axes, speeds, duties, asked / 1e3)
    look.say_under(axes, "m/s")


def _shares(axes: Axes, speeds: Array, duties: Array, shares: Array) -> None:
    for column, duty in enumerate(duties):
        axes.plot(speeds, 100.0 * shares[:, column], color=look.CANDIDATE, linestyle=parts.duty_line(duty), linewidth=1.3)
    parts.fit_height(axes, 100.0 * shares, least=5.0)
    parts.duty_labels(axes, speeds, duties, 100.0 * shares)
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

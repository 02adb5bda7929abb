"""Base duty over driving speed, per axle and side, before and after a change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from dualduty.report import look
from dualduty.signals import SIDES


@dataclass(frozen=True)
class DutyCurve:
    """One base curve at its own points, before and after.

    speed_before, before : (point,) arrays
        Driving speed [m/s] and duty [1]; empty where there was none.
    speed_after, after : (point,) arrays
        The same of the candidate.
    """

    axle: str
    side: str
    speed_before: NDArray[np.float64]
    before: NDArray[np.float64]
    speed_after: NDArray[np.float64]
    after: NDArray[np.float64]

    @property
    def changed(self) -> bool:
        """Whether the two curves differ at all."""
        return not (np.array_equal(self.speed_before, self.speed_after) and np.array_equal(self.before, self.after))


def draw_duty_map(curves: Sequence[DutyCurve], mode: str = "", before: str = "", after: str = "") -> Figure:
    """Axles down, compression left and rebound right; the change is shaded, unchanged panels say so."""
    axles = list(dict.fromkeys(curve.axle for curve in curves))
    height = 0.95 + 1.95 * max(len(axles), 1)
    figure = look.new_figure(look.WIDE * 0.8, height)
    changed = sum(curve.changed for curve in curves)
    said = f"{changed} of {len(curves)} curves changed" if curves else "no base curves"
    look.say_title(figure, f"Base duty over speed{': ' + mode if mode else ''}", said)
    fastest = max(
        (float(np.max(speed)) for curve in curves for speed in (curve.speed_before, curve.speed_after) if speed.size), default=1.0
    )
    for curve in curves:
        row, column = axles.index(curve.axle), SIDES.index(curve.side) if curve.side in SIDES else 0
        bottom = (0.62 + 1.95 * (len(axles) - 1 - row)) / height
        _panel(figure.add_axes((0.06 + 0.48 * column, bottom, 0.44, 1.45 / height)), curve, fastest, last=row == len(axles) - 1)
    handles = [Line2D([], [], marker="o", markersize=3.5, **style) for style in (look.CANDIDATE_LINE, look.BASELINE_LINE)]
    look.legend_below(
        figure,
        handles if curves else [],
        [f"candidate: {after}" if after else "candidate", f"baseline: {before}" if before else "baseline"],
    )
    return figure


def _panel(axes: Axes, curve: DutyCurve, fastest: float, *, last: bool) -> None:
    note = "" if curve.changed else "  (unchanged)"
    look.dress(axes, f"{curve.axle} {curve.side}{note}", "%")
    if curve.changed and curve.speed_before.size and curve.speed_after.size:
        speed = np.union1d(curve.speed_before, curve.speed_after)
        before, after = np.interp(speed, curve.speed_before, curve.before), np.interp(speed, curve.speed_after, curve.after)
        axes.fill_between(speed * 3.6, before * 100, after * 100, color="#d9e0ea", linewidth=0, zorder=1)
    pairs = ((curve.speed_after, curve.after, look.CANDIDATE_LINE), (curve.speed_before, curve.before, look.BASELINE_LINE))
    for speed, duty, style in pairs:
        axes.plot(_held(speed, fastest) * 3.6, np.r_[duty, duty[-1:]] * 100, marker="o", markersize=3.5, zorder=3, **style)
    axes.set_ylim(-3, 103)
    axes.set_xlim(0, fastest * 3.6 * 1.02)
    axes.set_yticks([0, 25, 50, 75, 100])
    if last:
        look.say_under(axes, "km/h")


def _held(speed: NDArray[np.float64], fastest: float) -> NDArray[np.float64]:
    """A curve holds its last value beyond its last point."""
    return np.r_[speed, max(float(speed[-1]), fastest)] if speed.size else speed

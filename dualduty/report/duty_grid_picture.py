"""Maps over constant compression and rebound duty: comfort, travel, stops, tyre load, roll, each with its best point."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np
from matplotlib import colormaps
from matplotlib.axes import Axes
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from numpy.typing import NDArray

from dualduty.cautions import simulated
from dualduty.report import look
from dualduty.units import from_si

if TYPE_CHECKING:
    from dualduty.scoring.measure import Measure
    from dualduty.trial.duty_grid import DutyGrid

SHOWN: Final = (
    "weighted_seat_acceleration", "worst_second_vibration", "tyre_load_variation", "peak_compression", "peak_stop_force",
    "peak_suspension_roll",
)  # fmt: skip
_COLUMNS: Final = 3
_MAP: Final = "cividis_r"  # made for colour-blind eyes, even in lightness: light is low
_PANEL: Final = 3.1  # inches
_MOST_WORDS: Final = 7  # steps up to which the numbers still fit into the cells


def draw_duty_grid(grid: DutyGrid, shown: Sequence[str] = SHOWN) -> Figure:
    """One map per measure; light is low, a frame marks the best point, a dot what can't be told from it."""
    measures = [measure for name in shown for measure in grid.measures if measure.name == name]
    rows = -(-len(measures) // _COLUMNS)
    height = 0.75 + rows * _PANEL
    figure = look.new_figure(look.WIDE * 0.9, height)
    look.say_title(figure, f"Constant duties: {grid.section.replace('_', ' ')}", _under(grid))
    for place, measure in enumerate(measures):
        row, column = divmod(place, _COLUMNS)
        bottom = (0.35 + 0.55 + _PANEL * (rows - 1 - row)) / height
        _panel(figure.add_axes((0.065 + 0.32 * column, bottom, 0.27, (_PANEL - 0.95) / height)), grid, measure)
    frame = Patch(facecolor="none", edgecolor=look.INK, linewidth=2.0)
    dot = Line2D([], [], marker="o", linestyle="", markersize=4.0, color=look.INK)
    colours = [look.patch(to_hex(colormaps[_MAP](share))) for share in (0.05, 0.95)]
    look.legend_below(figure, [frame, dot, *colours], ["best of all", "differs from the best by less than what matters", "low", "high"])
    return figure


def _under(grid: DutyGrid) -> str:
    plan = grid.plan
    axles = "front as rear" if plan.axle == "both" else f"{plan.axle} axle, the other held at {100 * plan.held:g} % on both sides"
    stamp = simulated(grid.stamp)
    return f"{grid.vehicle}; electronics off, {axles}; {stamp}"


def _panel(axes: Axes, grid: DutyGrid, measure: Measure) -> None:
    values = np.array([[from_si(float(value), measure.said) for value in row] for row in grid.value(measure.name)])
    duties = 100.0 * grid.plan.duties
    known = values[np.isfinite(values)]
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    best = grid.best(measure.name)
    shares = (values - low) / (high - low) if best is not None else np.full(values.shape, np.nan)
    look.dress(axes, measure.label + ("" if best is not None else ": alike at all duties"), measure.said)
    axes.grid(visible=False)
    axes.set_facecolor(look.FAINT)
    axes.imshow(shares, origin="lower", cmap=_MAP, vmin=0.0, vmax=1.0, aspect="auto", interpolation="nearest")
    ticks = np.arange(len(duties))
    axes.set_xticks(ticks, [f"{duty:g}" for duty in duties])
    axes.set_yticks(ticks, [f"{duty:g}" for duty in duties])
    axes.set_xlabel("rebound duty, %", fontsize=look.SMALL_SIZE, color=look.SOFT_INK)
    axes.xaxis.set_label_coords(0.5, -0.13)
    axes.set_ylabel("compression duty, %", fontsize=look.SMALL_SIZE, color=look.SOFT_INK)
    axes.yaxis.set_label_coords(-0.12, 0.5)
    _words(axes, values, shares, grid.as_good(measure.name))
    if best is not None and (values == values[best]).sum() == 1:  # of equals none is framed, the dots tell
        for colour, width in ((look.PAPER, 4.5), (look.INK, 2.0)):
            box = Rectangle(
                (best[1] - 0.5, best[0] - 0.5), 1.0, 1.0, fill=False, edgecolor=colour, linewidth=width, clip_on=False, zorder=5
            )
            axes.add_patch(box)


def _words(axes: Axes, values: NDArray[np.float64], shares: NDArray[np.float64], good: NDArray[np.bool_]) -> None:
    """The number in each cell, and a dot where it is as good as the best."""
    top = float(np.nanmax(np.abs(values))) if np.isfinite(values).any() else 0.0
    for (row, column), value in np.ndenumerate(values):
        share = shares[row, column]
        ink = look.text_on(to_hex(colormaps[_MAP](float(share)))) if np.isfinite(share) else look.INK
        if len(values) <= _MOST_WORDS:
            said = f"{_rounded(value, top):.{_decimals(top)}f}" if np.isfinite(value) else "none"
            axes.text(column, row, said, ha="center", va="center", fontsize=look.TICK_SIZE, color=ink)
        if good[row, column]:
            axes.plot(column + 0.34, row + 0.32, marker="o", markersize=3.2, color=ink, linestyle="")


def _rounded(value: float, top: float) -> float:
    """A value without the dust of arithmetic, beside the largest of its map: nothing below a millionth of it or of 1."""
    return 0.0 if abs(value) < 1e-6 * max(top, 1.0) else value


def _decimals(top: float) -> int:
    """Decimals that give the largest number three digits."""
    return int(np.clip(2 - np.floor(np.log10(top)), 0, 3)) if top > 1e-6 else 0  # noqa: PLR2004 - as in _rounded

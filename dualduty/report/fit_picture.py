"""Picture of a fit: predicted against measured changes of unseen runs, and every estimate with its interval against what was believed."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np
from matplotlib.axes import Axes

from dualduty.fit.predict import Change
from dualduty.fit.solve import TWO_SIDED, Fit
from dualduty.report.figure_file import write_figure
from dualduty.report.look import GRID, INK, PANEL_SIZE, SMALL_SIZE, SOFT_INK, STATE_COLOURS, TITLE_SIZE, WIDE, new_figure

BAND: Final = 5.0  # points; what a prediction with an identified map reaches at best
MARKERS: Final = ("o", "s", "D", "^", "v")


def write_fit_picture(path: Path, found: Fit, changes: Sequence[Change]) -> Path:
    """Changes on the left, estimates on the right."""
    figure = new_figure(WIDE, 8.2)
    title = f"{found.vehicle.car.name}: fitted to {len(found.runs)} runs, and what it predicts"
    figure.suptitle(title, x=0.02, ha="left", fontsize=TITLE_SIZE, color=INK)
    grid = figure.add_gridspec(1, 2, left=0.07, right=0.98, top=0.90, bottom=0.09, wspace=0.62)
    _changes(figure.add_subplot(grid[0, 0]), changes)
    _estimates(figure.add_subplot(grid[0, 1]), found)
    write_figure(figure, path)
    return path


def _changes(axes: Axes, changes: Sequence[Change]) -> None:
    for index, section in enumerate(dict.fromkeys(each.section for each in changes)):
        here = [each for each in changes if each.section == section]
        axes.errorbar(
            [each.measured for each in here], [each.predicted for each in here], yerr=[each.scatter for each in here],
            fmt=MARKERS[index % len(MARKERS)], color=STATE_COLOURS[index % len(STATE_COLOURS)], markersize=5, linewidth=0.8, label=section,
        )  # fmt: skip
    numbers = [number for each in changes for number in (each.measured, each.predicted)] or [-10.0, 10.0]
    ends = np.array([min(numbers) - 8.0, max(numbers) + 8.0])
    axes.plot(ends, ends, color=INK, linewidth=0.8)
    axes.fill_between(ends, ends - BAND, ends + BAND, color=GRID, linewidth=0.0, label=f"within {BAND:g} points")
    axes.set_title("unseen runs: change from one setting of duties to another", loc="left", fontsize=PANEL_SIZE, color=SOFT_INK)
    axes.set_xlabel("measured change [%]", fontsize=PANEL_SIZE)
    axes.set_ylabel("predicted change [%], bar: other ground of the same kind", fontsize=PANEL_SIZE)
    axes.legend(fontsize=SMALL_SIZE, frameon=False, loc="upper left")
    axes.tick_params(labelsize=SMALL_SIZE)


def _estimates(axes: Axes, found: Fit) -> None:
    rows = list(found.estimates.values())[::-1]
    away = [(each.value - each.unknown.mean) / each.unknown.sigma for each in rows]
    axes.axvspan(-TWO_SIDED, TWO_SIDED, color=GRID, linewidth=0.0)
    axes.errorbar(away, range(len(rows)), xerr=[TWO_SIDED * each.told for each in rows], fmt="o", color=INK, markersize=4, linewidth=1.2)
    axes.set_yticks(range(len(rows)), [each.unknown.name.replace("_", " ") for each in rows], fontsize=SMALL_SIZE)
    axes.set_xlabel("away from what was believed [its standard deviations], bar: 95 %", fontsize=PANEL_SIZE)
    axes.set_title("estimates; grey: 95 % of what was believed before", loc="left", fontsize=PANEL_SIZE, color=SOFT_INK)
    axes.tick_params(axis="x", labelsize=SMALL_SIZE)

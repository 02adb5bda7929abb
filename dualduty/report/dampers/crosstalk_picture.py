"""Picture of crosstalk: the force of each side over both duties, as the sheet's map and its crosstalk number give it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from dualduty.dyno.common_grid import sample
from dualduty.dyno.overlay import corner_label
from dualduty.report import look
from dualduty.report.dampers import picture_parts as parts
from dualduty.signals import SIDES

if TYPE_CHECKING:
    from dualduty.dyno.sheet import Sheet

SPEED: Final = 1.0  # m/s; between body and wheel motion
_OTHER: Final = {"compression": "rebound", "rebound": "compression"}
_DUTIES: Final = np.linspace(0.0, 1.0, 5)


def draw_crosstalk(sheet: Sheet, speed: float = SPEED) -> Figure:
    """Compression left, rebound right: own duty across, the other side's duty up; forces written into their cells."""
    speed = min(speed, sheet.top_speed)
    figure, board = parts.panels(1, 2, 3.0)
    title = f"{sheet.serial} {corner_label(sheet.corner)}: what one command does to the other side"
    look.say_title(figure, title, f"force at {speed:g} m/s shaft speed in kN; {', '.join(_said(sheet, side) for side in SIDES)}")
    for side, axes in zip(SIDES, board[0], strict=True):
        _panel(axes, sheet, side, speed)
    return figure


def _panel(axes: Axes, sheet: Sheet, side: str, speed: float) -> None:
    alone = sample(sheet.maps[side], np.array([speed]), _DUTIES)[0]
    forces = alone[None, :] * (1.0 + sheet.crosstalk[side] * _DUTIES[:, None])
    shift = 100.0 * (forces / alone - 1.0)
    reach = max(10.0, float(np.abs(shift).max()))
    axes.pcolormesh(
        100.0 * _DUTIES, 100.0 * _DUTIES, shift, cmap="RdBu_r", vmin=-reach, vmax=reach, shading="nearest", edgecolors=look.PAPER
    )
    for (row, column), force in np.ndenumerate(forces):
        axes.annotate(f"{force / 1e3:.2f}\n{shift[row, column]:+.1f} %", (100.0 * _DUTIES[column], 100.0 * _DUTIES[row]), ha="center",
                      va="center", fontsize=look.TICK_SIZE, color=look.INK)  # fmt: skip
    look.dress(axes, f"{side}: {side} duty across, {_OTHER[side]} duty up", "%")
    axes.grid(visible=False)
    axes.set_xticks(100.0 * _DUTIES)
    axes.set_yticks(100.0 * _DUTIES)


def _said(sheet: Sheet, side: str) -> str:
    if math.isnan(sheet.crosstalk_residual[side]):
        return f"{side} not tested, taken as none"
    return f"{side} {100 * sheet.crosstalk[side]:+.1f} % at full {_OTHER[side]} duty"

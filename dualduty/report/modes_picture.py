"""Pictures of a linearised vehicle: its modes over duty with their shapes, and what of the ground comes through."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from dualduty.report.figure_file import write_figure
from dualduty.report.look import GRID, INK, PANEL_SIZE, SMALL_SIZE, SOFT_INK, STATE_COLOURS, TITLE_SIZE, WIDE, new_figure
from plant.linearise import Linear, ground_response
from plant.modes import NAMES, Mode

Array = NDArray[np.float64]

MARKERS: Final = ("o", "s", "D", "^", "v", "<", ">")
DASHES: Final[tuple[Any, ...]] = ("-", (0, (6, 2)), (0, (3, 1.5)), (0, (1.2, 1.2)), (0, (6, 1.5, 1.2, 1.5)))
HERTZ: Final = np.geomspace(0.3, 30.0, 400)
CORNERS_ROUND: Final = (0, 1, 3, 2)  # front-left, front-right, rear-right, rear-left: once round the vehicle


def write_modes(path: Path, title: str, labels: Sequence[str], found: Sequence[Sequence[Mode]]) -> Path:
    """Frequency and damping ratio of each mode over duty, above the shapes at the first duty."""
    figure = new_figure(WIDE, 8.2)
    figure.suptitle(f"Modes of {title}", x=0.02, ha="left", fontsize=TITLE_SIZE, color=INK)
    grid = figure.add_gridspec(
        2, len(NAMES), height_ratios=[1.7, 1.0], left=0.06, right=0.98, top=0.91, bottom=0.04, hspace=0.32, wspace=0.08
    )
    swing, damp = figure.add_subplot(grid[0, :3]), figure.add_subplot(grid[0, 4:])
    for index, name in enumerate(NAMES):
        line: dict[str, Any] = {
            "color": STATE_COLOURS[index],
            "marker": MARKERS[index],
            "linestyle": DASHES[index % len(DASHES)],
            "label": name,
        }
        swing.plot(labels, [row[index].natural_hz for row in found], **line)
        damp.plot(labels, [row[index].damping_ratio for row in found], **line)
    place = damp.get_position()
    damp.set_position((place.x0 + 0.045, place.y0, place.width - 0.045, place.height))  # room for the legend between
    swing.set_yscale("log")
    _dress(swing, "undamped frequency [Hz]", "duty, compression/rebound [%]")
    swing.set_yticks([1.0, 1.5, 2.0, 3.0, 5.0, 10.0], ["1", "1.5", "2", "3", "5", "10"])
    swing.minorticks_off()
    _dress(damp, "damping ratio [1]", "duty, compression/rebound [%]")
    damp.set_ylim(bottom=0.0)
    damp.legend(loc="center left", bbox_to_anchor=(0.458, 0.68), bbox_transform=figure.transFigure, fontsize=PANEL_SIZE, frameon=False)
    for index, mode in enumerate(found[0]):
        _draw_shape(figure.add_subplot(grid[1, index], projection="3d"), mode, labels[0])
    write_figure(figure, path)
    return path


def write_transmissibility(path: Path, title: str, labels: Sequence[str], linears: Sequence[Linear]) -> Path:
    """Seat over ground, body over ground, and load of a front and a rear wheel per height, over frequency."""
    figure = new_figure(WIDE, 8.2)
    figure.suptitle(f"What of the ground comes through: {title}", x=0.02, ha="left", fontsize=TITLE_SIZE, color=INK)
    axes = figure.subplots(
        2, 2, sharex=True, gridspec_kw={"left": 0.07, "right": 0.98, "top": 0.9, "bottom": 0.07, "hspace": 0.16, "wspace": 0.16}
    )
    for index, (name, linear) in enumerate(zip(labels, linears, strict=True)):
        response = np.abs(ground_response(linear, HERTZ))
        per_height = (2 * np.pi * HERTZ) ** 2
        line: dict[str, Any] = {"color": STATE_COLOURS[index % len(STATE_COLOURS)], "linestyle": DASHES[index % len(DASHES)], "label": name}
        rows = [
            linear.row(output) for output in ("seat_acceleration_z", "body_acceleration_z", "wheel_load_front_left", "wheel_load_rear_left")
        ]
        for place, (axis, row) in enumerate(zip(axes.flat, rows, strict=True)):
            axis.plot(HERTZ, response[row] / (per_height if place < 2 else 1e3), **line)  # noqa: PLR2004 - two of body, two of wheels
    words = ("seat motion over ground height [1]", "body motion over ground height [1]",
             "load of a front wheel per height [N/mm]", "load of a rear wheel per height [N/mm]")  # fmt: skip
    for axis, word in zip(axes.flat, words, strict=True):
        _dress(axis, word, "")
        axis.set_xscale("log")
        axis.set_xticks([0.5, 1, 2, 5, 10, 20], ["0.5", "1", "2", "5", "10", "20"])
        axis.set_xlim(HERTZ[0], HERTZ[-1])
        axis.set_yscale("log")
    for axis in axes[1]:
        axis.set_xlabel("frequency at which a wheel meets the ground [Hz]", fontsize=PANEL_SIZE)
    note = "both tracks alike, rear wheels a wheelbase later" if linears[0].point.speed > 0.0 else "all four wheels at once, as on a rig"
    axes[0, 0].legend(
        title=f"duty, compression/rebound [%]\n{note}", fontsize=PANEL_SIZE, title_fontsize=SMALL_SIZE, frameon=False, loc="lower left"
    )
    write_figure(figure, path)
    return path


def _dress(axis: Axes, quantity: str, over: str) -> None:
    axis.set_title(quantity, loc="left", fontsize=PANEL_SIZE, color=SOFT_INK)
    axis.set_xlabel(over, fontsize=PANEL_SIZE)
    axis.grid(True, which="both", color=GRID, linewidth=0.6)
    axis.tick_params(labelsize=PANEL_SIZE)
    axis.spines[["top", "right"]].set_visible(False)


def _draw_shape(axis: Any, mode: Mode, at: str) -> None:
    """Body plate and wheels where they rest (thin) and where the mode takes them, at the phase in which they go farthest."""
    ahead, left = np.array([1.0, 1.0, -1.0, -1.0]), np.array([0.6, -0.6, 0.6, -0.6])
    shape = mode.shape
    body = shape[0] + left * shape[1] - ahead * shape[2]
    turn = np.exp(-0.5j * np.angle((np.concatenate([body, shape[3:]]) ** 2).sum()))  # most of the motion in one instant
    body, hubs = (body * turn).real, (shape[3:] * turn).real
    size = 0.45 / max(np.abs(body).max(), np.abs(hubs).max())
    order = [*CORNERS_ROUND, CORNERS_ROUND[0]]
    for scale, width, colour in ((0.0, 0.7, SOFT_INK), (size, 1.8, STATE_COLOURS[0])):
        axis.plot(ahead[order], left[order], 0.7 + scale * body[order], color=colour, linewidth=width)
        axis.scatter(
            ahead, left, -0.3 + scale * hubs, s=26 if scale else 8, color=STATE_COLOURS[4] if scale else SOFT_INK, depthshade=False
        )
    for corner in range(4):
        axis.plot(
            [ahead[corner]] * 2, [left[corner]] * 2, [0.7 + size * body[corner], -0.3 + size * hubs[corner]], color=SOFT_INK, linewidth=0.6
        )
    axis.set(xlim=(-1.1, 1.1), ylim=(-0.9, 0.9), zlim=(-0.9, 1.3))
    axis.set_box_aspect((1.5, 1.0, 1.3), zoom=1.25)
    axis.view_init(elev=18, azim=-60)
    axis.set_axis_off()
    axis.set_title(f"{mode.name}\n{mode.natural_hz:.2f} Hz, ratio {mode.damping_ratio:.2f}\nat {at} %", fontsize=SMALL_SIZE, color=INK)

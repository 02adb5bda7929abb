"""A picture of what sensors make of the truth: felt against given, channel by channel, with the faults marked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.files import whole_file
from dualduty.signals import CONTROLLER_LAYOUT, CORNER_LABELS, CORNERS, SIGNALS, Layout
from dualduty.trace import Case
from dualduty.units import from_si
from plant.faults import POWER_LOSS, Fault
from plant.sensors import Sensors

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

# as in the other pictures of the plant: colours of Okabe & Ito that differ in lightness too, and another line style
FELT: Final = "#000000"
GIVEN: Final = "#0072B2"
WRONG: Final = "#D55E00"
GAP: Final = "#CC79A7"
_SMALL: Final = 8.0


@dataclass(frozen=True)
class Listened:
    """One case of a run of the chain.

    felt, given : (row, time) arrays
        Before and after the chain. [SI]
    """

    felt: Array
    given: Array
    dt: float
    sensors: Sensors
    case: Case
    layout: Layout = CONTROLLER_LAYOUT


def sensor_figure(listened: Listened, channels: Sequence[str] = (), window: tuple[float, float] = (0.0, np.inf)) -> Figure:
    """A panel per channel: what is felt, what is given, when it is faulty; of corner channels the first faulty corner.

    `channels` are all that have an error or a fault unless named; `window` is the time shown [s].
    """
    from matplotlib.figure import Figure  # here, since it is heavy and seldom wanted

    names = _chosen(listened, channels)
    columns = 1 if len(names) < 4 else 2  # noqa: PLR2004 - a laptop page in one piece
    rows = -(-len(names) // columns)
    figure = Figure(figsize=(13.0, 1.0 + 1.9 * rows), layout="constrained")
    grid = figure.subplots(rows, columns, sharex=True, squeeze=False)
    figure.suptitle(f"Sensors: felt and given\n{listened.case.section}, seed {listened.case.seed}", x=0.01, ha="left", fontsize=11)
    last = min(window[1], listened.felt.shape[1] * listened.dt)
    for axis, name in zip(grid.ravel(), names, strict=False):
        _draw(axis, listened, name, (window[0], last))
    for axis in grid.ravel()[len(names) :]:
        axis.set_visible(False)
    for column in range(columns):
        lowest = grid[max(row for row in range(rows) if row * columns + column < len(names)), column]
        lowest.set_xlabel("time [s]", fontsize=9)
        lowest.tick_params(labelbottom=True)
    _say_lines(figure)
    return figure


def save_sensor_picture(
    listened: Listened, path: Path, channels: Sequence[str] = (), window: tuple[float, float] = (0.0, np.inf)
) -> Path:  # fmt: skip
    """Write the picture whole or not at all."""
    figure = sensor_figure(listened, channels, window)
    with whole_file(path) as draft:
        figure.savefig(draft, format=path.suffix.lstrip(".") or "png", dpi=110)
    return path


def _chosen(listened: Listened, channels: Sequence[str]) -> list[str]:
    known = listened.layout.names
    for name in channels:
        if name not in known:
            raise BadInput("sensor picture", f"no channel {name!r} was listened to; expected one of {', '.join(known)}")
    faulty = {fault.channel for fault in listened.sensors.faults}
    names = [name for name in known if name in channels or (not channels and (name in listened.sensors.errors or name in faulty))]
    if not names:
        raise BadInput("sensor picture", "expected a channel with an error or a fault, found none")
    return names


def _draw(axis: Axes, listened: Listened, name: str, window: tuple[float, float]) -> None:
    faults = [fault for fault in listened.sensors.faults if fault.channel == name and fault.touches(listened.case)]
    corner = faults[0].corners[0] if faults else 0
    row = listened.layout.rows[name].start + corner
    first, last = (round(time / listened.dt) for time in window)
    time: Array = listened.dt * np.arange(first, last, dtype=float)
    scale = from_si(1.0, SIGNALS[name].said)
    felt, given = scale * listened.felt[row, first:last], scale * listened.given[row, first:last]
    axis.plot(time, given, color=GIVEN, linewidth=1.5, drawstyle="steps-post", zorder=2)
    axis.plot(time, felt, color=FELT, linewidth=0.9, linestyle=(0, (4, 2)), zorder=3)
    _leave_room(axis)
    _mark_gaps(axis, time, np.isnan(given))
    here = [fault for fault in faults if corner in _touched(fault)]
    for fault in here:
        _mark(axis, fault, window)
    _dress(axis, f"{name.replace('_', ' ')}{f', {CORNER_LABELS[corner]}' if SIGNALS[name].corners > 1 else ''}", SIGNALS[name].said)
    if here:
        axis.set_title("; ".join(_said(fault) for fault in here), loc="right", fontsize=_SMALL, color=WRONG, pad=3.0)
    axis.set_xlim(*window)


def _touched(fault: Fault) -> set[int]:
    return {*fault.corners, *([CORNERS.index(fault.with_corner)] if fault.with_corner else [])}


def _said(fault: Fault) -> str:
    until = "" if np.isinf(fault.duration) else f" to {fault.start + fault.duration:g} s"
    other = f" with {fault.with_corner.replace('_', '-')}" if fault.with_corner else ""
    return f"{fault.kind.replace('_', ' ')}{other} from {fault.start:g} s{until}"


def _mark(axis: Axes, fault: Fault, window: tuple[float, float]) -> None:
    end = min(fault.start + fault.duration, window[1])
    if fault.kind != POWER_LOSS and end > window[0]:
        axis.axvspan(max(fault.start, window[0]), end, color=WRONG, alpha=0.12, linewidth=0.0, zorder=0)


def _mark_gaps(axis: Axes, time: Array, gap: NDArray[np.bool_]) -> None:
    """A tick at the panel's foot for each sample that is missing."""
    foot = np.full(int(gap.sum()), 0.03)
    axis.plot(time[gap], foot, "|", color=GAP, markersize=6.0, markeredgewidth=1.0, transform=axis.get_xaxis_transform())


def _leave_room(axis: Axes) -> None:
    """Room below for the gaps, and above."""
    low, high = axis.get_ylim()
    room = 0.12 * (high - low)
    axis.set_ylim(low - room, high + room)


def _dress(axis: Axes, title: str, said: str) -> None:
    axis.set_title(f"{title} [{said}]", loc="left", fontsize=9, pad=3.0)
    axis.grid(visible=True, color="0.88", linewidth=0.6)
    axis.spines[["top", "right"]].set_visible(False)
    axis.tick_params(labelsize=_SMALL)


def _say_lines(figure: Figure) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    marks = [
        Line2D([], [], color=FELT, linewidth=0.9, linestyle=(0, (4, 2)), label="felt"),
        Line2D([], [], color=GIVEN, linewidth=1.5, label="given"),
        Line2D([], [], color=GAP, marker="|", linestyle="none", label="nothing came"),
        Patch(facecolor=WRONG, alpha=0.2, label="fault put in"),
    ]
    figure.legend(handles=marks, loc="outside upper right", ncols=4, frameon=False, fontsize=9)

"""What the pictures of dyno sheets share: lines that differ in colour, lightness and dash; panels; force with its direction."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from dualduty.report import look

Array = NDArray[np.float64]

# Dark and light in turn, each with its own dash and marker, so that grey print and colour blindness leave them apart.
DAMPER_LINES: Final[tuple[dict[str, Any], ...]] = (
    {"color": "#143f73", "linestyle": "-", "marker": "o"},
    {"color": "#cf7a2b", "linestyle": (0, (5.0, 1.6)), "marker": "s"},
    {"color": "#6d2f5b", "linestyle": (0, (1.2, 1.2)), "marker": "^"},
    {"color": "#3f8f83", "linestyle": (0, (6.0, 1.5, 1.2, 1.5)), "marker": "D"},
)
DUTY_LINES: Final = ((0, (1.2, 1.4)), (0, (3.0, 1.4)), (0, (5.0, 1.4, 1.2, 1.4)), (0, (7.0, 1.6)), "-")
CORRIDOR: Final = "#dfe5ec"
ODD: Final = "#9c2f1f"
SIGN: Final = {"compression": 1.0, "rebound": -1.0}  # compression up, rebound down
SPEED_TICKS: Final = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
_NEAR: Final = 0.05  # share of a panel's height at which two texts would touch
_HEAD: Final = 0.95  # inches above the first row of panels, and
_FOOT: Final = 0.85  # below the last
_LEFT: Final = 0.75
_GAP: Final = (0.75, 0.62)  # inches between panels, across and down


def damper_line(place: int) -> dict[str, Any]:
    """Line of one damper by its place in the group."""
    return DAMPER_LINES[place % len(DAMPER_LINES)]


def duty_line(duty: float) -> Any:
    """Dash of a duty: dotted when soft, whole when firm."""
    return DUTY_LINES[round(duty * (len(DUTY_LINES) - 1))]


def panels(rows: int, columns: int, row_height: float = 2.9) -> tuple[Figure, list[list[Axes]]]:
    """A figure with a regular board of panels, room for title and legend left free."""
    height = _HEAD + _FOOT + rows * row_height + (rows - 1) * _GAP[1]
    figure = look.new_figure(look.WIDE, height)
    board = figure.add_gridspec(
        rows, columns, left=_LEFT / look.WIDE, right=1.0 - 0.45 / look.WIDE, top=1.0 - _HEAD / height, bottom=_FOOT / height,
        hspace=_GAP[1] / row_height, wspace=_GAP[0] * columns / (look.WIDE - _LEFT),
    )  # fmt: skip
    return figure, [[figure.add_subplot(board[row, column]) for column in range(columns)] for row in range(rows)]


def speed_axis(axes: Axes, speeds: Array) -> None:
    """Shaft speeds spread evenly by ratio, since tests are denser where it is slow."""
    axes.set_xscale("log")
    axes.minorticks_off()
    axes.set_xlim(0.85 * float(speeds[0]), 1.18 * float(speeds[-1]))
    ticks = [tick for tick in SPEED_TICKS if speeds[0] * 0.85 <= tick <= speeds[-1] * 1.18]
    axes.set_xticks(ticks, [f"{tick:g}" for tick in ticks])
    look.say_under(axes, "m/s")


def legend_line(label: str, handles: list[Any], labels: list[str], **style: Any) -> None:
    """Add a line to a legend being gathered."""
    from matplotlib.lines import Line2D

    handles.append(Line2D([], [], markersize=4.0, linewidth=1.4, **style))
    labels.append(label)


def middle_duties(duties: Array) -> Sequence[int]:
    """Columns of soft end, middle and firm end."""
    return sorted({0, int(np.argmin(np.abs(duties - 0.5))), duties.size - 1})


def duty_labels(axes: Axes, speeds: Array, duties: Array, values: Array) -> None:
    """Name soft end, middle and firm end at the right of a panel; ends that nearly meet share one text."""
    low, high = axes.get_ylim()
    columns = middle_duties(duties)
    groups: list[list[int]] = []
    for column in sorted(columns, key=lambda column: float(values[-1, column])):
        if groups and values[-1, column] - values[-1, groups[-1][-1]] < _NEAR * (high - low):
            groups[-1].append(column)
        else:
            groups.append([column])
    for group in groups:
        named = ", ".join(f"{100 * duties[column]:.0f}" for column in sorted(group))
        text = "all" if len(group) == len(columns) else f"{named} %"
        axes.annotate(
            text, (speeds[-1], values[-1, group].mean()), (4, 0), textcoords="offset points",
            va="center", fontsize=look.SMALL_SIZE, color=look.SOFT_INK, annotation_clip=False,
            bbox={"facecolor": look.PAPER, "edgecolor": "none", "pad": 0.5}, zorder=5,
        )  # fmt: skip


def fit_height(axes: Axes, *values: Array, least: float) -> None:
    """Limits that hold all values with some air, and at least `least` to either side of their middle."""
    low, high = (float(edge([edge(each) for each in values])) for edge in (np.min, np.max))
    air = max(0.08 * (high - low), least - 0.5 * (high - low), 0.0)
    axes.set_ylim(low - air, high + air)


def with_zero(values: Array) -> Array:
    """A curve from standstill on."""
    return np.concatenate([[0.0], values])

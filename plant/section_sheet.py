"""All sections on one sheet: ground, wanted speed and what is asked for sideways, small, side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.units import from_si
from plant.course import Course
from plant.demand import lateral_demand
from plant.section import Section
from plant.section_picture import BRAKE, HELD, LEFT, RIGHT, THROTTLE, WANTED

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.gridspec import SubplotSpec
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

Array = NDArray[np.float64]

ACROSS: Final = 4
_PANELS: Final = (2.0, 1.0, 1.0)  # heights: ground, speed, sideways
_LEAST: Final = (150.0, 0.3)  # mm from the lowest to the highest, and g: nearly level ground is drawn as such
_FAST: Final = 100.0  # km/h


def sheet_figure(sections: Sequence[Section]) -> Figure:
    """Every section with the same few panels; distances and heights have scales of their own."""
    from matplotlib.figure import Figure  # here, since it is heavy and seldom wanted

    down = -(-len(sections) // ACROSS)
    height = 2.5 * down + 0.9
    figure = Figure(figsize=(4.3 * ACROSS, height))
    grid = figure.add_gridspec(down, ACROSS, left=0.05, right=0.985, top=1.0 - 0.95 / height, bottom=0.45 / height, hspace=0.5, wspace=0.25)
    figure.suptitle(f"{len(sections)} sections", x=0.012, y=1.0 - 0.2 / height, ha="left", fontsize=13)
    for place, section in enumerate(sections):
        _draw(figure, grid[place // ACROSS, place % ACROSS], section)
    figure.legend(handles=_legend(), loc="upper right", ncols=7, fontsize=8.5, frameon=False, bbox_to_anchor=(0.99, 1.0 - 0.08 / height))
    return figure


def _legend() -> list[Line2D | Patch]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    return [
        Line2D([], [], color=LEFT, label="left track [mm]"),
        Line2D([], [], color=RIGHT, linestyle=(0, (4, 2)), label="right track"),
        Line2D([], [], color=WANTED, label="wanted speed [km/h], sideways demand, left + [g]"),
        Line2D([], [], color=WANTED, linestyle=(0, (1, 1.5)), label="expected, not kept"),
        Patch(color=BRAKE, alpha=0.35, label="extra brake"),
        Patch(color=THROTTLE, alpha=0.35, label="least throttle"),
        Line2D([], [], color=HELD, label="wheel held"),
    ]


def _draw(figure: Figure, spot: SubplotSpec, section: Section) -> None:
    inner = spot.subgridspec(len(_PANELS), 1, height_ratios=_PANELS, hspace=0.12)
    course = section.build()
    distance = course.ground.step * np.arange(len(course.ground.left), dtype=np.float64)
    reach = section.drive.distance_after(section.duration)
    shown = distance <= reach
    axes = [figure.add_subplot(inner[row, 0]) for row in range(len(_PANELS))]
    for axis, draw in zip(axes, (_draw_ground, _draw_speed, _draw_sideways), strict=True):
        draw(axis, distance, course, shown)
        axis.set_xlim(0.0, reach)
        axis.tick_params(labelsize=7, labelbottom=axis is axes[-1], length=2)
        axis.grid(visible=True, color="0.9", linewidth=0.5)
        axis.spines[["top", "right"]].set_visible(False)
    axes[-1].set_xlabel("distance [m]", fontsize=7, labelpad=1)
    everyday = ", everyday" if section.everyday else ""
    axes[0].set_title(f"{section.name} ({section.duration:g} s{everyday})", fontsize=9, loc="left", fontweight="bold", pad=4)


def _draw_ground(axis: Axes, distance: Array, course: Course, shown: NDArray[np.bool_]) -> None:
    tracks = [1e3 * track for track in (course.ground.left, course.ground.right)]
    axis.plot(distance, tracks[0], color=LEFT, linewidth=1.2)
    axis.plot(distance, tracks[1], color=RIGHT, linewidth=1.0, linestyle=(0, (4, 2)))
    low, high = (float(pick([pick(track[shown]) for track in tracks])) for pick in (np.min, np.max))
    slack = max(0.1 * (high - low), 0.5 * (_LEAST[0] - (high - low)))
    axis.set_ylim(low - slack, high + slack)
    axis.set_ylabel("mm", fontsize=7)


def _draw_speed(axis: Axes, distance: Array, course: Course, shown: NDArray[np.bool_]) -> None:
    speed = from_si(1.0, "km/h") * course.drive.speed
    kept = course.drive.coast < 0.5  # noqa: PLR2004 - it is 0 or 1
    axis.plot(distance, np.where(kept, speed, np.nan), color=WANTED, linewidth=1.2)
    axis.plot(distance, np.where(kept, np.nan, speed), color=WANTED, linewidth=1.0, linestyle=(0, (1, 1.5)))
    top = max(float(speed[shown].max()) * 1.15, 0.6 * _FAST)
    axis.fill_between(distance, 0.0, course.drive.brake * top, color=BRAKE, alpha=0.35, linewidth=0)
    axis.fill_between(distance, 0.0, course.drive.throttle * top, color=THROTTLE, alpha=0.35, linewidth=0)
    axis.set_ylim(0.0, top)
    axis.set_ylabel("km/h", fontsize=7)


def _draw_sideways(axis: Axes, distance: Array, course: Course, shown: NDArray[np.bool_]) -> None:
    demand = lateral_demand(course)
    held = course.drive.hold > 0.5  # noqa: PLR2004 - it is 0 or 1
    axis.plot(distance, np.where(held, np.nan, demand), color=WANTED, linewidth=1.2)
    axis.plot(distance, np.where(held, demand, np.nan), color=HELD, linewidth=1.2)
    bound = max(_LEAST[1], 1.2 * float(np.abs(demand[shown]).max()))
    axis.set_ylim(-bound, bound)
    axis.set_ylabel("g", fontsize=7)

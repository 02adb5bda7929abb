"""A picture of a section: what the ground does and what the driver wants, over distance."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.files import whole_file
from dualduty.units import STANDARD_GRAVITY, from_si
from plant.course import Course
from plant.section import Section

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

# from the eight colours of Okabe & Ito, "Color Universal Design", 2008, which stay apart for colour-blind readers; line styles differ too
LEFT: Final = "#0072B2"
RIGHT: Final = "#D55E00"
WANTED: Final = "#000000"
BRAKE: Final = "#CC79A7"
THROTTLE: Final = "#009E73"
HELD: Final = "#E69F00"


def section_figure(section: Section, seed: int | None = None) -> Figure:
    """Heights of both tracks, wanted speed, curvature, and where there is something to see the held wheel and the pedals, over distance."""
    from matplotlib.figure import Figure  # here, since it is heavy and seldom wanted

    course = section.build(seed)
    distance: Array = course.ground.step * np.arange(len(course.ground.left), dtype=np.float64)
    reach = section.drive.distance_after(section.duration)
    parts = [_draw_ground, _draw_speed, _draw_curvature]
    if section.drive.step_steer:
        parts.append(_draw_steer)
    if section.drive.brake or section.drive.throttle:
        parts.append(_draw_pedals)
    figure = Figure(figsize=(10.0, 4.0 + 1.5 * (len(parts) - 1)), layout="constrained")
    axes = figure.subplots(len(parts), 1, sharex=True, height_ratios=[2.4] + [1.0] * (len(parts) - 1))
    figure.suptitle(_title(section, section.seed if seed is None else seed), x=0.01, ha="left", fontsize=11)
    for axis, draw in zip(axes, parts, strict=True):
        draw(axis, distance, course)
        _dress(axis, reach)
    axes[0].annotate(f"{section.duration:g} s at the wanted speed", (reach, 1.0), (-4, -2), xycoords=("data", "axes fraction"),
                     textcoords="offset points", ha="right", va="top", fontsize=9, color="0.3")  # fmt: skip
    axes[-1].set_xlim(0.0, min(float(distance[-1]), 1.06 * reach))
    axes[-1].set_xlabel("distance [m]")
    return figure


def save_section_picture(section: Section, path: Path, seed: int | None = None) -> Path:
    """Write the picture whole or not at all."""
    with whole_file(path) as draft:
        section_figure(section, seed).savefig(draft, format=path.suffix.lstrip(".") or "png", dpi=120)
    return path


def _title(section: Section, seed: int) -> str:
    intent = textwrap.fill(section.intent, 120)
    return f"{section.name} (seed {seed}; {section.provenance.split(':')[0]})\n{intent}"


def _dress(axis: Axes, reach: float) -> None:
    axis.grid(visible=True, color="0.88", linewidth=0.6)
    axis.axvline(reach, color="0.4", linewidth=1.0, linestyle=":")
    axis.spines[["top", "right"]].set_visible(False)


def _draw_ground(axis: Axes, distance: Array, course: Course) -> None:
    axis.plot(distance, 1e3 * course.ground.left, color=LEFT, linewidth=1.6, label="left track")
    axis.plot(distance, 1e3 * course.ground.right, color=RIGHT, linewidth=1.2, linestyle=(0, (4, 2)), label="right track")
    axis.set_ylabel("height [mm]")
    axis.legend(loc="lower right", framealpha=1.0, edgecolor="none", ncols=2, fontsize=9)
    axis.margins(y=0.18)


def _draw_speed(axis: Axes, distance: Array, course: Course) -> None:
    speed = from_si(1.0, "km/h") * course.drive.speed
    free = course.drive.coast > 0.5  # noqa: PLR2004 - it is 0 or 1
    axis.plot(distance, np.where(free, np.nan, speed), color=WANTED, label="kept")
    if free.any():
        axis.plot(distance, np.where(free, speed, np.nan), color=WANTED, linestyle=(0, (1, 1.5)), label="expected: speed keeping off")
        axis.legend(loc="lower right", framealpha=1.0, edgecolor="none", ncols=2, fontsize=9)
    axis.set_ylabel("wanted speed\n[km/h]")
    axis.set_ylim(0.0, 1.15 * float(speed.max()))


def _draw_curvature(axis: Axes, distance: Array, course: Course) -> None:
    lateral = course.drive.speed**2 * course.drive.curvature / STANDARD_GRAVITY
    axis.plot(distance, 1e3 * course.drive.curvature, color=WANTED)
    axis.set_ylabel("curvature, left +\n[1/km]")
    bound = max(10.0, 1.25e3 * float(np.abs(course.drive.curvature).max()))
    axis.set_ylim(-bound, bound)
    peak = float(lateral[np.argmax(np.abs(lateral))])
    words = f"{peak:+.2f} g at the wanted speed".replace("-", "\N{MINUS SIGN}") if peak else "no turn is asked for"
    low = peak > 0  # the words stand on the side of zero that the curve leaves free
    axis.annotate(words, (0.01, 0.08 if low else 0.92), xycoords="axes fraction", va="bottom" if low else "top", fontsize=9, color="0.3")


def _draw_steer(axis: Axes, distance: Array, course: Course) -> None:
    angle = np.where(course.drive.hold > 0.5, np.rad2deg(course.drive.steer), np.nan)  # noqa: PLR2004 - it is 0 or 1
    axis.plot(distance, angle, color=HELD, linewidth=1.8, label="held open loop; path keeping elsewhere")
    axis.axhline(0.0, color="0.6", linewidth=0.8)
    axis.set_ylabel("road wheels,\nleft + [deg]")
    axis.legend(loc="best", framealpha=1.0, edgecolor="none", fontsize=9)
    axis.margins(y=0.3)


def _draw_pedals(axis: Axes, distance: Array, course: Course) -> None:
    axis.plot(distance, 100 * course.drive.brake, color=BRAKE, linewidth=1.6, label="extra brake")
    axis.plot(distance, 100 * course.drive.throttle, color=THROTTLE, linewidth=1.6, linestyle=(0, (4, 2)), label="least throttle")
    axis.set_ylabel("demand [%]")
    axis.set_yticks([0, 50, 100])
    axis.set_ylim(-5.0, 150.0)  # room for the legend
    axis.legend(loc="upper right", framealpha=1.0, edgecolor="none", ncols=2, fontsize=9)

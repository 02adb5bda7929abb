"""Where each damper lived: time over shaft speed, on its force map and over its travel; a second run beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, Protocol

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, LogNorm
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from dualduty.damper_map import DamperMap
from dualduty.report import look
from dualduty.report.sheet import STOPS_FILL
from dualduty.report.time_series import EndStops
from dualduty.signals import CORNER_LABELS, SIDES

Array = NDArray[np.float64]

TIME: Final = LinearSegmentedColormap.from_list("time", ["#d3dcea", "#6f93c4", "#143f73", "#0a1524"])  # lighter to darker throughout
DUTIES: Final[tuple[tuple[float, Any], ...]] = (
    (0.1, (0, (1.0, 1.4))),
    (0.5, "-"),
    (0.9, (0, (5.0, 1.6))),
)  # share of the moving time, and how its line is drawn
TOP, GAP, LEFT, WIDTH, BETWEEN = 0.72, 0.42, 0.060, 0.205, 0.0355  # inches and shares of the width
FOOT: Final = 0.62
FORCE, SPEED, TRAVEL = 1.95, 1.15, 1.35  # inches
REACHABLE: Final = "#f6ead9"
LEAST: Final = 1e-3  # per cent of time in a cell that is drawn; one sample of two minutes at 200 Hz
SPARE: Final = 1.08


class Life(Protocol):
    """What the picture needs of one damper: see replay.damper_life.CornerLife."""

    @property
    def seconds(self) -> float:
        """[s]"""

    @property
    def fastest(self) -> Array:
        """(2,) array. [m/s]"""

    @property
    def speed(self) -> Array:
        """(speed,) array. [s]"""

    @property
    def travel(self) -> Array:
        """(travel,) array. [s]"""

    @property
    def speed_force(self) -> Array:
        """(speed, force) array. [s]"""

    @property
    def speed_travel(self) -> Array:
        """(speed, travel) array. [s]"""

    def duty_at(self, side: int, share: float) -> float:
        """[1]"""


class Run(Protocol):
    """A run with its dampers: see dualduty.trial.damper_life.DamperLife."""

    @property
    def name(self) -> str:
        """What it is called."""

    @property
    def corners(self) -> Sequence[Life | None]:
        """One per corner."""


class Edges(Protocol):
    """Edges of the bins: see replay.damper_life."""

    SPEED_EDGES: Array
    FORCE_EDGES: Array
    TRAVEL_EDGES: Array


def draw_lives(runs: Sequence[Run], maps: Mapping[str, Sequence[DamperMap]], car: EndStops, edges: Edges, under: str = "") -> Figure:
    """A column per corner: force over shaft speed of each run, time by speed, speed over travel of the first run, time by travel.

    `maps` are the force maps by side, one per corner; `edges` is the module that names the edges of the bins.
    """
    bands = [*((FORCE, "force") for _ in runs), (SPEED, "speed"), (TRAVEL, "plane"), (SPEED, "travel")]
    height = TOP + FOOT + sum(high + GAP for high, _ in bands)
    figure = look.new_figure(look.WIDE, height)
    names = " and ".join(run.name for run in runs)
    look.say_title(figure, f"Where the dampers lived: {names}", under)
    view = _View(edges, _reach(runs), _forces(runs, edges.FORCE_EDGES / 1e3), car)
    below = height - TOP
    for index, (high, kind) in enumerate(bands):
        below -= high + GAP
        for corner in range(len(CORNER_LABELS)):
            axes = look.dress(figure.add_axes((LEFT + corner * (WIDTH + BETWEEN), (below + 0.16) / height, WIDTH, high / height)))
            view.panel(axes, kind, corner, runs, index, maps)
    look.legend_below(figure, *_legend(runs), columns=5)
    return figure


def _reach(runs: Sequence[Run]) -> tuple[float, float]:
    """Highest speeds of any damper in rebound (negative) and compression. [m/s]"""
    fastest = np.array([life.fastest for run in runs for life in run.corners if life is not None])
    return -max(SPARE * float(fastest[:, 1].max()), 0.5), max(SPARE * float(fastest[:, 0].max()), 0.5)


def _forces(runs: Sequence[Run], edges: Array) -> tuple[float, float]:
    """Lowest and highest force of any damper, with room. [kN]"""
    seen = np.sum([life.speed_force.sum(axis=0) for run in runs for life in run.corners if life is not None], axis=0)
    used = np.flatnonzero(seen)
    low, high = (float(edges[used[0]]), float(edges[used[-1] + 1])) if used.size else (-1.0, 1.0)
    return SPARE * min(low, -0.5), SPARE * max(high, 0.5)


def _force_at(damper_map: DamperMap, speed: Array, duty: float) -> Array:
    """Force over speeds (time,) at one duty. [kN]"""
    return damper_map.force(speed[None, :, None], np.full((1, len(speed), 1), duty))[0, :, 0] / 1e3


class _View:
    """What all panels share."""

    def __init__(self, edges: Edges, speeds: tuple[float, float], forces: tuple[float, float], car: EndStops) -> None:
        self.edges, self.speeds, self.forces, self.car = edges, speeds, forces, car

    def panel(self, axes: Axes, kind: str, corner: int, runs: Sequence[Run], index: int, maps: Mapping[str, Sequence[DamperMap]]) -> None:
        """One panel of one corner."""
        lives = [run.corners[corner] for run in runs]
        if kind == "force":
            self._force(axes, lives[index], {side: maps[side][corner] for side in SIDES})
            which = f"{('first', 'second')[index]} run: " if len(runs) > 1 else ""
            look.say_panel(axes, f"{CORNER_LABELS[corner]}, {which}force", "kN")
        elif kind == "speed":
            self._shares(axes, lives, self.edges.SPEED_EDGES, "speed", joined=4)
            axes.set_yscale("log")
            axes.set_ylim(3e-3, 99.0)
            look.say_panel(axes, "time by shaft speed, per 0.2 m/s", "%")
        elif kind == "plane":
            self._plane(axes, lives[0], self.edges.TRAVEL_EDGES, "speed_travel", 1e3)
            self._stops(axes, corner, vertical=False)
            look.say_panel(axes, f"{'first run: ' if len(runs) > 1 else ''}shaft travel", "mm")
        else:
            self._shares(axes, lives, self.edges.TRAVEL_EDGES, "travel", 1e3)
            self._stops(axes, corner, vertical=True)
            look.say_panel(axes, "time by travel, per 5 mm", "%")
            look.say_under(axes, "mm")
        if kind != "travel":
            axes.set_xlim(*self.speeds)
            look.say_under(axes, "m/s")
            axes.axvline(0.0, color=look.SOFT_INK, linewidth=0.6, zorder=1)

    def _plane(self, axes: Axes, life: Life | None, edges: Array, name: str, factor: float) -> None:
        if life is None or life.seconds <= 0.0:
            axes.text(0.5, 0.5, "not logged", transform=axes.transAxes, ha="center", fontsize=look.SMALL_SIZE, color=look.SOFT_INK)
            return
        share = 100.0 * getattr(life, name).T / life.seconds
        speeds = self.edges.SPEED_EDGES
        extent = (float(speeds[0]), float(speeds[-1]), factor * float(edges[0]), factor * float(edges[-1]))
        axes.imshow(
            np.ma.masked_less(share, LEAST), extent=extent, origin="lower", aspect="auto", interpolation="nearest", cmap=TIME,
            norm=LogNorm(LEAST, 10.0), zorder=2,
        )  # fmt: skip

    def _force(self, axes: Axes, life: Life | None, maps: Mapping[str, DamperMap]) -> None:
        self._plane(axes, life, self.edges.FORCE_EDGES, "speed_force", 1e-3)
        for index, side in enumerate(SIDES):
            sign, fast = 1.0 - 2.0 * index, abs(self.speeds[1 - index])
            speed = np.linspace(0.0, fast, 120)
            softest, firmest = (sign * _force_at(maps[side], speed, duty) for duty in (0.0, 1.0))
            axes.fill_between(sign * speed, softest, firmest, color=REACHABLE, linewidth=0.0, zorder=1)
            for share, dashes in DUTIES:
                duty = life.duty_at(index, share) if life is not None else np.nan
                if not np.isnan(duty):
                    style = {"color": look.BASELINE, "linewidth": 1.1, "linestyle": dashes}
                    axes.plot(sign * speed, sign * _force_at(maps[side], speed, duty), zorder=4, **style)
            tested = float(maps[side].speeds[-1])
            if tested < fast:
                axes.axvline(sign * tested, **look.STOP_LINE)
        axes.set_ylim(*self.forces)

    def _shares(self, axes: Axes, lives: Sequence[Life | None], edges: Array, name: str, factor: float = 1.0, joined: int = 1) -> None:
        """Time by one quantity; `joined` bins are taken together."""
        for life, style in zip(lives, (look.CANDIDATE_LINE, look.BASELINE_LINE), strict=False):
            if life is not None and life.seconds > 0.0:
                axes.stairs(100.0 * getattr(life, name).reshape(-1, joined).sum(axis=1) / life.seconds, factor * edges[::joined], **style)

    def _stops(self, axes: Axes, corner: int, *, vertical: bool) -> None:
        """The bump stop's zone, the droop stop and where travel ends."""
        stroke, contact = (1e3 * float(values[corner]) for values in (self.car.stroke, self.car.bump_contact))
        limits = (-20.0, stroke + 15.0)
        span, line = (axes.axvspan, axes.axvline) if vertical else (axes.axhspan, axes.axhline)
        span(contact, stroke, color=STOPS_FILL, zorder=0)
        for end in (0.0, stroke):
            line(end, **look.STOP_LINE)
        (axes.set_xlim if vertical else axes.set_ylim)(*limits)


def _legend(runs: Sequence[Run]) -> tuple[list[Any], list[str]]:
    handles: list[Any] = [look.patch("#d3dcea"), look.patch("#143f73"), look.patch(REACHABLE)]
    labels = ["0.001 % of the time in a cell", "1 % of the time", "the map from duty 0 to 100 %"]
    for share, dashes in DUTIES:
        handles.append(Line2D([], [], color=look.BASELINE, linewidth=1.1, linestyle=dashes))
        labels.append(
            "force at the median duty"
            if share == DUTIES[1][0]
            else f"at the duty of the {'softest' if share < DUTIES[1][0] else 'firmest'} 10 %"
        )
    handles += [Line2D([], [], **look.STOP_LINE), look.patch(STOPS_FILL)]
    labels += ["last tested speed; end of travel", "bump stop touched"]
    if len(runs) > 1:
        handles += [Line2D([], [], **look.CANDIDATE_LINE), Line2D([], [], **look.BASELINE_LINE)]
        labels += [f"first: {look.shorten(runs[0].name, 30)}", f"second: {look.shorten(runs[1].name, 30)}"]
    return handles, labels

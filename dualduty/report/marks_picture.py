"""Marks over time: a lane per state and place, who or what said so told by hatch and edge, soft edges as soft ends, signals beneath."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from numpy.typing import NDArray

from dualduty.report import look
from dualduty.report.event_picture import LINES, SHORT
from replay.marks.mark import BUTTON, NOTE, OFFLINE, PROPOSED, REJECTED, TRUTH, Mark

Array = NDArray[np.float64]
Window = tuple[float, float]

LANE: Final = 0.36  # inches
PANEL: Final = 1.25
GAP: Final = 0.42
HEAD: Final = 0.72
FOOT: Final = 0.6
LEFT: Final = 0.14
RIGHT: Final = 0.985
MOST_LANES: Final = 24
MOST_BINS: Final = 1200  # of a curve: more can't be told apart on a laptop page
LEAST_SHARE: Final = 0.002  # of the time span: about two pixels, so that a short mark can be seen
_HIGH: Final = 0.56  # of a lane


@dataclass(frozen=True)
class Said:
    """How marks of one kind of origin look."""

    words: str
    face: str
    hatch: str


ORIGINS: Final = {
    "person": Said("a person, from scratch", "#5f83ad", ""),
    "detector": Said("a detector proposed it", "#f0cf9b", "////"),
    "offline": Said("proposed by looking at the whole log", "#d6e4dc", "...."),
    "truth": Said("truth of a simulation", "#23232f", ""),
    "button": Said("the marker button", "#8c4a63", ""),
}


@dataclass(frozen=True)
class Panel:
    """One signal: a title, the unit said, and a (time,) and a values array per row, in that unit."""

    title: str
    said: str
    rows: tuple[tuple[Array, Array], ...]


def origin_of(mark: Mark) -> str:
    """Which of `ORIGINS` a mark belongs to."""
    if mark.origin in (OFFLINE, BUTTON, TRUTH):
        return {OFFLINE: "offline", BUTTON: "button", TRUTH: "truth"}[mark.origin]
    return "detector" if mark.origin else "person"


def draw_marks(marks: Sequence[Mark], panels: Sequence[Panel], window: Window, title: str, under: str = "") -> Figure:
    """Marks of a window [s], and the signals that show whether they are right."""
    events = [mark for mark in marks if mark.state != NOTE]
    lanes = list(dict.fromkeys((mark.state, mark.where) for mark in sorted(events, key=lambda mark: (mark.state, mark.where))))
    more = len(lanes) - MOST_LANES
    lanes = lanes[:MOST_LANES]
    tall = LANE * max(len(lanes), 1)
    height = HEAD + tall + len(panels) * (GAP + PANEL) + FOOT
    figure = look.new_figure(look.WIDE, height)
    look.say_title(figure, title, under + (f" {more} more lanes not drawn." if more > 0 else ""))
    axes = figure.add_axes((LEFT, (height - HEAD - tall) / height, RIGHT - LEFT, tall / height))
    _lanes(axes, events, lanes, window)
    every = [axes]
    for index, panel in enumerate(panels, start=1):
        low = height - HEAD - tall - index * (GAP + PANEL)
        every.append(figure.add_axes((LEFT, low / height, RIGHT - LEFT, PANEL / height)))
        _panel(every[-1], panel, window)
    look.say_under(every[-1], "time [s]")
    _notes(every, [mark for mark in marks if mark.state == NOTE], window)
    _legend(figure, events)
    return figure


def _lanes(axes: Axes, marks: Sequence[Mark], lanes: Sequence[tuple[str, str]], window: Window) -> None:
    look.dress(axes)
    axes.set_xlim(*window)
    axes.set_ylim(max(len(lanes), 1), 0)
    axes.grid(visible=False, axis="y")
    axes.set_yticks([index + 0.5 for index in range(len(lanes))], [_lane_name(*lane) for lane in lanes], fontsize=look.TICK_SIZE)
    for index in range(1, len(lanes)):
        axes.axhline(index, color=look.GRID, linewidth=0.8)
    for mark in marks:
        if (mark.state, mark.where) in lanes:
            _box(axes, mark, lanes.index((mark.state, mark.where)), window)


def _lane_name(state: str, where: str) -> str:
    return look.plain(look.shorten(f"{state} {where}".strip().replace("_", " "), 30))


def _box(axes: Axes, mark: Mark, lane: int, window: Window) -> None:
    """A mark, and how soft its edges are; dashed where it is only proposed, struck out where rejected, empty where nobody is sure."""
    said = ORIGINS[origin_of(mark)]
    width = max(mark.end - mark.start, LEAST_SHARE * (window[1] - window[0]))
    left, top = 0.5 * (mark.start + mark.end - width), lane + 0.5 * (1.0 - _HIGH)
    for edge, margin in zip((mark.start, mark.end), mark.margins(), strict=True):
        axes.add_patch(
            Rectangle((edge - margin, lane + 0.36), 2.0 * margin, 0.28, facecolor=look.SOFT_INK, alpha=0.35, linewidth=0, zorder=2)
        )
    rejected = mark.status == REJECTED
    face = look.PAPER if rejected or (not mark.counts and mark.status != PROPOSED) else said.face
    style: dict[str, Any] = {"linestyle": (0, (3.0, 1.5)) if mark.status == PROPOSED else "-", "linewidth": 1.1, "zorder": 3}
    axes.add_patch(Rectangle((left, top), width, _HIGH, facecolor=face, edgecolor=look.INK, hatch=said.hatch, alpha=0.95, **style))
    seen = (max(left, window[0]), min(left + width, window[1]))
    if rejected:
        for heights in ((top, top + _HIGH), (top + _HIGH, top)):
            axes.plot(seen, heights, color=look.MARK_COLOURS["missed"], linewidth=1.6, zorder=4)
    if mark.sure < 1.0 and not rejected:
        place = (seen[1] + mark.margins()[1], lane + 0.5)
        axes.annotate(
            f"{100 * mark.sure:.0f} %",
            place,
            (3, 0),
            textcoords="offset points",
            fontsize=look.SMALL_SIZE,
            va="center",
            color=look.SOFT_INK,
        )


def _panel(axes: Axes, panel: Panel, window: Window) -> None:
    look.dress(axes, panel.title, panel.said)
    axes.set_xlim(*window)
    for index, (time, values) in enumerate(panel.rows):
        colour, style = LINES[index % len(LINES)]
        drawn = thinned(*_inside(time, values, window))
        axes.plot(*drawn, color=colour, linestyle=style, linewidth=1.1, label=SHORT[index] if len(panel.rows) > 1 else None)
    if len(panel.rows) > 1:
        axes.legend(
            loc="lower right", bbox_to_anchor=(1.0, 0.99), fontsize=look.SMALL_SIZE, frameon=False, ncols=len(panel.rows), borderaxespad=0.1
        )


def _inside(time: Array, values: Array, window: Window) -> tuple[Array, Array]:
    first, last = np.searchsorted(time, window)
    return time[max(first - 1, 0) : last + 1], values[max(first - 1, 0) : last + 1]


def thinned(time: Array, values: Array, most: int = MOST_BINS) -> tuple[Array, Array]:
    """A curve of at most 2 `most` points, lowest and highest of each bin, so that no peak is lost; (point,) arrays."""
    good = np.isfinite(values)
    time, values = time[good], values[good]
    per_bin = len(values) // most
    if per_bin < 2:  # noqa: PLR2004 - nothing to leave out
        return time, values
    whole = per_bin * (len(values) // per_bin)
    bins = values[:whole].reshape(-1, per_bin)
    at = np.sort(np.stack([bins.argmin(axis=1), bins.argmax(axis=1)], axis=1), axis=1) + per_bin * np.arange(len(bins))[:, None]
    kept = np.concatenate([at.ravel(), np.arange(whole, len(values))])
    return time[kept], values[kept]


def _notes(every: Sequence[Axes], notes: Sequence[Mark], window: Window) -> None:
    """A line through all panels at each note; its words over the lanes, as far as there is room."""
    last = -np.inf
    for mark in sorted(notes, key=lambda mark: mark.start):
        if not window[0] <= mark.start <= window[1]:
            continue
        for axes in every:
            axes.axvline(mark.start, color=ORIGINS["button"].face, linewidth=1.1, linestyle=(0, (1.2, 1.4)), zorder=5)
        if mark.start - last > 0.1 * (window[1] - window[0]):  # room for the words
            late = mark.start > window[0] + 0.85 * (window[1] - window[0])
            every[0].annotate(
                look.plain(look.shorten(mark.note or mark.name, 26)), (mark.start, 1.0), (-3 if late else 3, 2),
                xycoords=("data", "axes fraction"), textcoords="offset points", fontsize=look.SMALL_SIZE, color=ORIGINS["button"].face,
                ha="right" if late else "left",
            )  # fmt: skip
            last = mark.start


def _legend(figure: Figure, marks: Sequence[Mark]) -> None:
    """What of all this there is in the picture."""
    used = [name for name in ORIGINS if any(origin_of(mark) == name for mark in marks)]
    handles: list[Any] = [Rectangle((0, 0), 1, 1, facecolor=ORIGINS[n].face, edgecolor=look.INK, hatch=ORIGINS[n].hatch) for n in used]
    words = [ORIGINS[name].words for name in used]
    plain = {"facecolor": look.PAPER, "edgecolor": look.INK}
    if any(mark.status == PROPOSED for mark in marks):
        handles.append(Rectangle((0, 0), 1, 1, **plain, linestyle=(0, (3.0, 1.5))))  # type: ignore[arg-type]
        words.append("dashed: not judged yet")
    if any(mark.status == REJECTED for mark in marks):
        handles.append(Rectangle((0, 0), 1, 1, facecolor=look.PAPER, edgecolor=look.MARK_COLOURS["missed"], hatch="xx"))
        words.append("struck out: rejected")
    if marks:
        handles.append(look.patch("#b9bdc3"))
        words.append("how soft an edge is")
    look.legend_below(figure, handles, words)

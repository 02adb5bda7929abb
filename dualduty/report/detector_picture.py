"""Marks against detections on a timeline: what was found, what was missed, what was seen where nothing was."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from matplotlib.axes import Axes
from matplotlib.collections import PatchCollection
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from dualduty.report import look, words
from dualduty.report.words import Row

LANE: Final = 0.46  # inches
HEAD: Final = 0.72
FOOT: Final = 0.58
KINDS: Final = ("found", "missed", "false")
MOST_LABELS: Final = 60
LEAST_SHARE: Final = 0.0025  # of the time span: about three pixels, so that a short event can be seen in a long log


def draw_detections(rows: Sequence[Row], span: tuple[float, float] | None = None) -> Figure:
    """A lane per state: marks in the upper half, detections in the lower.

    A row has `state`, `kind` (found, missed, false), `start` and `end` [s] of the mark (of the detection where
    false), and where found `latency_ms` and, if known, `detected_start` and `detected_end` [s].
    """
    states = list(dict.fromkeys(str(row["state"]) for row in rows))
    height = HEAD + FOOT + LANE * max(len(states), 1)
    figure = look.new_figure(look.WIDE, height)
    look.say_title(figure, "Marks and detections", _counts(rows))
    if not rows:
        return figure
    axes = look.dress(figure.add_axes((0.14, FOOT / height, 0.85, LANE * len(states) / height)))
    low, high = span or (min(float(row["start"]) for row in rows), max(float(row["end"]) for row in rows))
    low, high = (low, high) if high > low else (low - 0.5, low + 0.5)
    axes.set_xlim(low - 0.01 * (high - low), high + 0.06 * (high - low))  # room for the last label
    axes.set_ylim(len(states), 0)
    axes.set_yticks([index + 0.5 for index in range(len(states))], [_lane_name(state, rows) for state in states], fontsize=look.TICK_SIZE)
    axes.grid(visible=False, axis="y")
    look.say_under(axes, "time [s]")
    for lane in range(1, len(states)):
        axes.axhline(lane, color=look.GRID, linewidth=0.8)
    _boxes(axes, rows, states, LEAST_SHARE * (high - low))
    if len(rows) <= MOST_LABELS:
        _latencies(axes, rows, states)
    look.legend_below(figure, *_legend())
    return figure


def _counts(rows: Sequence[Row]) -> str:
    if not rows:
        return "No marks and no detections."
    found, missed, false = (sum(row["kind"] == kind for row in rows) for kind in KINDS)
    return f"{found + missed} marks: {found} found, {missed} missed; {false} false detections."


def _lane_name(state: str, rows: Sequence[Row]) -> str:
    mine = [row for row in rows if row["state"] == state]
    found, false = (sum(row["kind"] == kind for row in mine) for kind in ("found", "false"))
    marks = sum(row["kind"] != "false" for row in mine)
    name = look.plain(look.shorten(state.replace("_", " "), 24))
    return f"{name}\n{found} of {marks}" + (f", {false} false" if false else "")


def _boxes(axes: Axes, rows: Sequence[Row], states: Sequence[str], least: float) -> None:
    marks: dict[str, list[Rectangle]] = {kind: [] for kind in KINDS}
    detections: dict[str, list[Rectangle]] = {kind: [] for kind in KINDS}
    for row in rows:
        lane, kind = states.index(str(row["state"])), str(row["kind"])
        if kind != "false":
            marks[kind].append(_box(float(row["start"]), float(row["end"]), lane + 0.10, least))
        if kind != "missed":
            start, end = _detected(row)
            detections[kind].append(_box(start, end, lane + 0.52, least))
    _add(axes, marks["found"], facecolor="#b9c7da", edgecolor=look.CANDIDATE)
    _add(axes, marks["missed"], facecolor=look.PAPER, edgecolor=look.MARK_COLOURS["missed"], linewidth=1.6)
    _add(axes, detections["found"], facecolor=look.MARK_COLOURS["found"], edgecolor=look.MARK_COLOURS["found"])
    _add(axes, detections["false"], facecolor=look.MARK_COLOURS["false"], edgecolor="#7a5a14", hatch="////")


def _box(start: float, end: float, top: float, least: float) -> Rectangle:
    width = max(end - start, least)
    return Rectangle((0.5 * (start + end - width), top), width, 0.38)


def _detected(row: Row) -> tuple[float, float]:
    """Interval of the detection; taken from the latency where the row gives no more."""
    late = row.get("latency_ms")
    late_by = float(late) / 1e3 if words.is_number(late) and row["kind"] == "found" else 0.0  # type: ignore[arg-type]
    start, end = row.get("detected_start"), row.get("detected_end")
    first = float(start) if words.is_number(start) else float(row["start"]) + late_by  # type: ignore[arg-type]
    last = float(end) if words.is_number(end) else float(row["end"])  # type: ignore[arg-type]
    return first, max(first, last)


def _add(axes: Axes, boxes: list[Rectangle], **style: Any) -> None:
    if boxes:
        axes.add_collection(PatchCollection(boxes, **{"linewidth": 0.8, "zorder": 3, **style}))


def _latencies(axes: Axes, rows: Sequence[Row], states: Sequence[str]) -> None:
    for row in rows:
        lane = states.index(str(row["state"]))
        if row["kind"] == "missed":
            _note(axes, float(row["end"]), lane + 0.29, "✗ missed", look.MARK_COLOURS["missed"])
        elif row["kind"] == "found" and words.is_number(row.get("latency_ms")):
            _note(axes, _detected(row)[1], lane + 0.71, f"{words.say_number(row['latency_ms'], 2)} ms", look.SOFT_INK)


def _note(axes: Axes, time: float, height: float, told: str, colour: str) -> None:
    axes.annotate(told, (time, height), (4, 0), textcoords="offset points", fontsize=look.SMALL_SIZE, va="center", color=colour)


def _legend() -> tuple[list[Any], list[str]]:
    handles = [
        look.patch("#b9c7da"), Rectangle((0, 0), 1, 1, facecolor=look.PAPER, edgecolor=look.MARK_COLOURS["missed"], linewidth=1.6),
        look.patch(look.MARK_COLOURS["found"]), look.patch(look.MARK_COLOURS["false"], hatch="////"),
    ]  # fmt: skip
    return handles, ["mark, found", "mark, missed", "detection of a mark, with its latency", "detection without a mark"]

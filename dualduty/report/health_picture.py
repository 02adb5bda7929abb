"""Health of a log as strips: a lane per channel over time, what was found in colour and hatch, sections on top, marker presses."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch, Rectangle
from numpy.typing import NDArray

from dualduty.report import look
from replay.health.check_log import Health
from replay.health.finding import NOTE, SPOILS, Finding
from replay.health.slow_copy import RATE

if TYPE_CHECKING:
    from dualduty.trial.run_sheet import LogSection

Array = NDArray[np.float64]
LANE: Final = 0.235  # inches
ABOVE, BELOW, LEFT, RIGHT = 1.15, 0.95, 1.75, 2.55  # inches
POINTS: Final = 700  # of a trace: lowest and highest of each stretch
NARROWEST: Final = 0.004  # of the picture's width: a dropout of 0.1 s in 20 minutes would not be seen
_TITLE: Final = 105  # characters of a title that fit
_LATE: Final = 0.8  # of the picture's width; from there on words stand to the left of what they tell of
CLOCK: Final = -1  # lane of what belongs to no channel
_CHARACTERS: Final = 0.075  # inches a character of a section's name takes


@dataclass(frozen=True)
class Dress:
    """How findings of some kinds are drawn: they differ in lightness and in hatch, not in hue alone."""

    label: str
    kinds: tuple[str, ...]
    colour: str
    hatch: str


_NOTHING: Final = ("dropout", "gap", "short gaps", "pause", "empty", "missing values", "not logged", "cut line")
DRESSES: Final = (
    Dress("nothing there", _NOTHING, "#1c3f6e", "////"),
    Dress("can't be true", ("stuck", "spikes", "saturation", "quantisation", "range"), "#d98a2b", "...."),
    Dress("mapped wrong", ("inverted travel", "swapped travel", "turned unit", "inverted axis"), "#7d2248", "xxxx"),
    Dress("wrong time", ("stamps", "jitter", "clock drift", "misalignment"), "#3f8f83", "||||"),
    Dress("off by some", ("offset", "scale"), "#b9b4a4", "----"),
)


def draw_health(health: Health, sections: Sequence[LogSection], verdict: str, name: str) -> Figure:
    """The strips of one log."""
    lanes = _lanes(health)
    height = ABOVE + BELOW + LANE * len(lanes)
    figure = look.new_figure(look.WIDE, height)
    box = (LEFT / look.WIDE, BELOW / height, 1.0 - (LEFT + RIGHT) / look.WIDE, LANE * len(lanes) / height)
    axes = look.dress(figure.add_axes(box))
    axes.set(xlim=(0.0, health.lasts), ylim=(len(lanes), 0.0))
    for lane, row in enumerate(lanes):
        _lane(axes, lane, row, health)
    _names(axes, lanes, health)
    _sections(axes, sections, health, box[2] * look.WIDE)
    _presses(axes, health)
    axes.grid(visible=False)
    axes.set_xlabel("time since the log's first stamp [s]", fontsize=look.TICK_SIZE, color=look.SOFT_INK)
    axes.xaxis.set_label_coords(0.5, -0.27 / (LANE * len(lanes)))
    righted = " with the map put right" if health.moves else ""
    under = f"{name}, {health.lasts:.0f} s. Grey: the channel itself{righted}. A full lane: this stretch; a foot strip: the whole log."
    look.say_title(figure, textwrap.shorten(verdict, _TITLE, placeholder=" ..."), under)
    look.legend_below(figure, [_swatch(dress) for dress in DRESSES], [dress.label for dress in DRESSES])
    return figure


def _lanes(health: Health) -> list[int]:
    """Rows drawn: those of the slow copy, and any other with something to draw; what belongs to none comes first."""
    found = {row for finding in health.findings if not _in_words(finding) for row in finding.rows if row in health.channels.rows}
    others = [CLOCK] if any(_of_clock(finding, health) for finding in health.findings) else []
    return others + sorted(set(health.motion.place) | found)


def _of_clock(finding: Finding, health: Health) -> bool:
    return not any(row in health.channels.rows for row in finding.rows)


def _in_words(finding: Finding) -> bool:
    """Told in words only: a strip would say more than it means."""
    return finding.whole and finding.severity == NOTE


def _lane(axes: Axes, lane: int, row: int, health: Health) -> None:
    axes.axhspan(lane, lane + 1, color=look.FAINT if lane % 2 else look.PAPER, zorder=0, linewidth=0.0)
    if row in health.motion.place:
        _trace(axes, lane, health.motion.row(row))
    mine = [found for found in health.findings if (_of_clock(found, health) if row == CLOCK else row in found.rows)]
    for found in reversed(mine):
        _mark(axes, lane, found, health.lasts)
    words = ", ".join(dict.fromkeys(found.kind for found in mine if not _in_words(found)))
    if words:
        weight = "bold" if any(found.severity == SPOILS for found in mine) else "normal"
        at = (1.0, lane + 0.5)
        axes.annotate(look.plain(look.shorten(words, 38)), at, (6.0, 0.0), xycoords=("axes fraction", "data"), textcoords="offset points",
                      fontsize=look.TICK_SIZE, color=look.INK, va="center", fontweight=weight, annotation_clip=False)  # fmt: skip


def _trace(axes: Axes, lane: int, values: Array) -> None:
    """A channel within its lane, lowest and highest of each stretch, scaled to 1 to 99 % of its values."""
    known = values[np.isfinite(values)]
    if not len(known):
        return
    low, high = np.quantile(known, [0.01, 0.99])
    scaled = np.clip((values - low) / max(high - low, 1e-12), -0.1, 1.1)
    cuts = np.linspace(0, len(scaled), min(POINTS, len(scaled)) + 1).astype(int)
    rows = [scaled[first:last] for first, last in pairwise(cuts.tolist())]
    lows = np.array([row[np.isfinite(row)].min(initial=np.inf) for row in rows])
    highs = np.array([row[np.isfinite(row)].max(initial=-np.inf) for row in rows])
    there = np.isfinite(lows)
    middles = np.where(there, 0.5 * (cuts[:-1] + cuts[1:]) / RATE, np.nan)
    bottom, top = (lane + 0.9 - 0.8 * np.where(there, bound, np.nan) for bound in (lows, highs))
    axes.fill_between(middles, bottom, top, color="#8d949c", linewidth=0.6, zorder=1)


def _mark(axes: Axes, lane: int, found: Finding, lasts: float) -> None:
    dress = dress_of(found.kind)
    style: dict[str, Any] = {"facecolor": dress.colour, "edgecolor": look.PAPER, "hatch": dress.hatch, "linewidth": 0.0, "zorder": 3}
    if _in_words(found):
        return
    if found.whole:
        thick = 0.3 if found.severity == SPOILS else 0.2
        axes.add_patch(Rectangle((0.0, lane + 1.0 - thick), lasts, thick, **style))
        return
    width = max(found.end - found.start, NARROWEST * lasts)
    begin = min(0.5 * (found.start + found.end) - 0.5 * width, lasts - width)
    axes.add_patch(Rectangle((begin, lane + 0.04), width, 0.92, **style))
    if found.severity == SPOILS:
        late = begin > _LATE * lasts
        axes.annotate(
            look.plain(found.brief or found.kind), (begin if late else begin + width, lane + 0.5), (-4.0 if late else 4.0, 0.0),
            textcoords="offset points", fontsize=look.SMALL_SIZE, fontweight="bold", color=look.INK, ha="right" if late else "left",
            va="center", zorder=5, bbox={"facecolor": look.PAPER, "edgecolor": "none", "pad": 0.8},
        )  # fmt: skip


def dress_of(kind: str) -> Dress:
    """How a kind of finding is drawn."""
    return next((dress for dress in DRESSES if kind in dress.kinds), DRESSES[1])


def _swatch(dress: Dress) -> Patch:
    return Patch(facecolor=dress.colour, edgecolor=look.PAPER, hatch=dress.hatch, linewidth=0.0)


def _names(axes: Axes, lanes: Sequence[int], health: Health) -> None:
    labels = ["clock and file" if row == CLOCK else health.channels.rows[row].label for row in lanes]
    axes.set_yticks(np.arange(len(lanes)) + 0.5, [look.plain(look.shorten(label, 28)) for label in labels], fontsize=look.TICK_SIZE)


def _sections(axes: Axes, sections: Sequence[LogSection], health: Health, inches: float) -> None:
    """Sections as bars over the lanes; names where they fit, in two rows, those in which something is spoilt first and bold."""
    spoilt = [found for found in health.findings if found.severity == SPOILS and not found.whole]
    bad = [any(found.start < section.end and section.start < found.end for found in spoilt) for section in sections]
    for index, section in enumerate(sections):
        axes.plot([section.start, section.end], [-0.18, -0.18], color=look.CANDIDATE if index % 2 else look.BASELINE, linewidth=4.0,
                  solid_capstyle="butt", clip_on=False)  # fmt: skip
        axes.axvspan(section.start, section.end, color="#dfe6ee", alpha=0.35, zorder=0.5, linewidth=0.0)
    held: tuple[list[tuple[float, float]], ...] = ([], [])
    for index in sorted(range(len(sections)), key=lambda index: not bad[index]):
        name, middle = sections[index].name, 0.5 * (sections[index].start + sections[index].end)
        half = 0.5 * len(name) * _CHARACTERS * health.lasts / inches
        row = next((row for row in (0, 1) if all(middle + half < low or high < middle - half for low, high in held[row])), None)
        if row is not None:
            held[row].append((middle - half, middle + half))
            axes.annotate(look.plain(name), (middle, -0.18), (0.0, 4.0 + 9.0 * row), textcoords="offset points", fontsize=look.SMALL_SIZE,
                          fontweight="bold" if bad[index] else "normal", color=look.INK, ha="center", va="bottom",
                          annotation_clip=False)  # fmt: skip


def _presses(axes: Axes, health: Health) -> None:
    for time in health.presses or ():
        axes.axvline(time, color=look.INK, linewidth=0.9, linestyle=(0, (3.0, 2.0)), zorder=4)
        axes.annotate(
            "marker", (time, 0.0), (0.0, 26.0), textcoords="offset points", fontsize=look.SMALL_SIZE, color=look.INK, ha="center",
            va="bottom", annotation_clip=False, arrowprops={"arrowstyle": "-|>", "color": look.INK, "linewidth": 0.8},
        )  # fmt: skip

"""The one place for how the bench looks: colours, type sizes, figure sizes, labels.

Every pair that must be told apart differs in lightness as well as hue, so that it survives colour blindness, a grey
printer and a laptop in the sun; baseline and candidate differ by line style too.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.ticker import ScalarFormatter
from numpy.typing import NDArray

from dualduty.signals import SIGNALS
from dualduty.units import unit

DPI: Final = 110
INK: Final = "#1d232b"
SOFT_INK: Final = "#5a636e"
WIDE: Final = 12.6  # inches: 1386 pixels, a laptop page in one piece
GRID: Final = "#e3e6ea"
PAPER: Final = "#ffffff"
FAINT: Final = "#f3f4f6"

BASELINE: Final = "#cf7a2b"  # burnt clay, lighter: relative luminance 0.28
CANDIDATE: Final = "#143f73"  # deep ink blue, darker: relative luminance 0.05
BASELINE_LINE: Final[dict[str, Any]] = {"color": BASELINE, "linewidth": 1.0, "linestyle": (0, (4.0, 1.6))}
CANDIDATE_LINE: Final[dict[str, Any]] = {"color": CANDIDATE, "linewidth": 1.5, "linestyle": "-"}
STOP_LINE: Final[dict[str, Any]] = {"color": "#9c2f1f", "linewidth": 0.9, "linestyle": (0, (1.2, 1.6))}

TITLE_SIZE: Final = 12.0
PANEL_SIZE: Final = 9.0
TICK_SIZE: Final = 8.0
SMALL_SIZE: Final = 7.0
LIGHT: Final = 0.22  # relative luminance from which ink reads better than paper; by eye

# One colour per layer from the base upward; neighbours alternate between light and dark.
LAYER_COLOURS: Final = (
    "#cdc9bc", "#2f5d8a", "#e2a72c", "#6d2f5b", "#4fae6c", "#a8432a", "#aac1e6", "#7d6a5e", "#d98cf0", "#23232f", "#f3ec5e", "#7040d8",
)  # fmt: skip
STATE_COLOURS: Final = ("#2f5d8a", "#b9822a", "#6d2f5b", "#3f8f83", "#a8432a", "#48552f", "#7a6fb0", "#8c4a63")
FLAG_COLOURS: Final = {
    "limit": "#7d9cc9", "slew": "#b79fd8", "fault": "#c8102e", "map clamp": "#3f2370", "trim": "#cfdac8", "heat": "#b4552d",
}  # fmt: skip

MARK_COLOURS: Final = {"found": CANDIDATE, "missed": "#a33a17", "false": "#e2a72c"}


def new_figure(width: float, height: float) -> Figure:
    """An empty white figure with its own canvas; nothing is registered anywhere, so threads may draw side by side."""
    figure = Figure(figsize=(width, height), dpi=DPI, facecolor=PAPER)
    FigureCanvasAgg(figure)
    return figure


def dress(axes: Axes, title: str = "", said: str = "") -> Axes:
    """Our panel: title top left in plain words with the unit, faint grid, no box."""
    say_panel(axes, title, said)
    axes.tick_params(labelsize=TICK_SIZE, colors=SOFT_INK, labelcolor=INK, length=0.0, pad=3.0)
    for edge, spine in axes.spines.items():
        spine.set_visible(edge in ("left", "bottom"))
        spine.set_color("#9aa3ad")
        spine.set_linewidth(0.7)
    axes.grid(visible=True, color=GRID, linewidth=0.7)
    axes.set_axisbelow(True)
    for form in (axes.xaxis.get_major_formatter(), axes.yaxis.get_major_formatter()):
        if isinstance(form, ScalarFormatter):
            form.set_useOffset(False)  # 1020.2, and not 0.2 with 1.02e3 somewhere else
    axes.xaxis.set_label_coords(0.5, -0.2)  # given places: finding them costs a quarter of the drawing
    axes.yaxis.set_label_coords(-0.1, 0.5)
    return axes


def say_panel(axes: Axes, title: str, said: str = "") -> None:
    """Title of a panel with its unit."""
    if title:
        label = f"{title}  [{said}]" if said and said != "1" else title
        axes.set_title(plain(label), loc="left", fontsize=PANEL_SIZE, color=INK, pad=4.0, y=1.0)  # a given y saves a search for room


def say_under(axes: Axes, words: str) -> None:
    """Name of the horizontal axis, left of its first number where nothing else stands."""
    axes.annotate(
        plain(words), (0.0, 0.0), (-12.0, -5.5), xycoords="axes fraction", textcoords="offset points", fontsize=SMALL_SIZE, color=SOFT_INK,
        ha="right", va="top",
    )  # fmt: skip


def say_title(figure: Figure, title: str, under: str = "") -> None:
    """Title and one line beneath it, at fixed distances from the top whatever the figure's height."""
    inch = 1.0 / figure.get_figheight()
    left = 0.12 / figure.get_figwidth()
    figure.text(left, 1.0 - 0.10 * inch, plain(title), fontsize=TITLE_SIZE, fontweight="bold", color=INK, va="top")
    if under:
        figure.text(left, 1.0 - 0.34 * inch, plain(under), fontsize=TICK_SIZE, color=SOFT_INK, va="top")


def legend_below(figure: Figure, handles: Sequence[Any], labels: Sequence[str], columns: int = 0) -> None:
    """One legend for the whole figure along its lower edge, eight entries to a row."""
    if handles:
        legend = figure.legend(
            list(handles), [plain(label) for label in labels], loc="lower left", ncols=columns or min(len(handles), 8), frameon=False,
            fontsize=TICK_SIZE, bbox_to_anchor=(0.04, 0.0), borderaxespad=0.2, handlelength=2.0, columnspacing=1.6,
        )  # fmt: skip
        legend.set_in_layout(False)


def patch(colour: str, **more: Any) -> Patch:
    """A legend swatch."""
    return Patch(facecolor=colour, edgecolor="#9aa3ad", linewidth=0.5, **more)


def layer_colour(index: int) -> str:
    """Colour of a layer by its place in the stack; the base keeps its own, the others repeat when there are many."""
    return LAYER_COLOURS[index] if index < len(LAYER_COLOURS) else LAYER_COLOURS[1 + (index - 1) % (len(LAYER_COLOURS) - 1)]


def text_on(colour: str) -> str:
    """Ink or paper, whichever reads on a colour (relative luminance after IEC 61966-2-1)."""
    red, green, blue = (((part + 0.055) / 1.055) ** 2.4 for part in to_rgb(colour))
    return INK if 0.2126 * red + 0.7152 * green + 0.0722 * blue > LIGHT else PAPER


def state_colour(index: int) -> str:
    """Colour of a state band by its place in the header."""
    return STATE_COLOURS[index % len(STATE_COLOURS)]


def said_unit(name: str, fallback: str = "1") -> str:
    """Unit in which people say a signal; `fallback` for a name that is not a signal."""
    return SIGNALS[name].said if name in SIGNALS else fallback


def in_said(values: NDArray[np.float64], said: str) -> NDArray[np.float64]:
    """Convert an array from SI to a unit people say."""
    return values / unit(said).factor


@lru_cache(maxsize=1)
def _known_characters() -> frozenset[int]:
    from matplotlib import get_data_path
    from matplotlib.ft2font import FT2Font

    return frozenset(FT2Font(f"{get_data_path()}/fonts/ttf/DejaVuSans.ttf").get_charmap())


@lru_cache(maxsize=4096)
def plain(text: str) -> str:
    """Text as it stands: no formula mark-up, no line breaks, and a box for what the built-in font can't draw."""
    known = _known_characters()
    shown = "".join(letter if ord(letter) in known else "□" for letter in " ".join(text.split()))
    return (" " + shown if shown.startswith("_") else shown).replace("$", r"\$")


def shorten(text: str, most: int) -> str:
    """Cut a long name in its middle, where names differ least."""
    if len(text) <= most:
        return text
    head = (most - 1 + 1) // 2
    return text[:head] + "…" + text[len(text) - (most - 1 - head) :]

"""Coloured strips over time: which layer decided, which flags were up, which states were active."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import to_rgba
from numpy.typing import NDArray

from dualduty.report import look
from dualduty.report.gather import Gathered, Strip
from dualduty.signals import SIDES
from dualduty.trace import FLAG_CLAMP, FLAG_FAULT, FLAG_HEAT, FLAG_LABELS, FLAG_LIMIT, FLAG_SLEW, FLAG_TRIM

Colours = NDArray[np.uint8]

CLEAR: Final = (0, 0, 0, 0)
GRAVEST_LAST: Final = (FLAG_TRIM, FLAG_SLEW, FLAG_LIMIT, FLAG_HEAT, FLAG_CLAMP, FLAG_FAULT)
MODE_LANE: Final = "drive mode"
MODE_COLOURS: Final = ("#e4e0d4", "#8b95a3", "#c4cfc9", "#565d66")
HALF: Final = 0.5  # a state is 0 or 1
LEAST_NAMED: Final = 0.05  # share of the time span with room for a short text
LANE: Final = 16  # pixel rows of a lane's image: room for four corners and a baseline line


@dataclass
class Lanes:
    """A stack of strips that becomes one image, top lane first."""

    edges: NDArray[np.float64]
    labels: list[str] = field(default_factory=list)
    rows: list[Colours] = field(default_factory=list)

    def add(self, label: str, cells: Colours, beneath: Colours | None = None) -> None:
        """Add a lane from `(row, bin, 4)` colours; `beneath` is one row of the baseline, drawn as a line under it."""
        high = LANE - 2 - (0 if beneath is None else 4)
        gap = np.zeros((1, cells.shape[1], 4), dtype=np.uint8)
        body = cells[np.arange(high) * cells.shape[0] // high]
        line = [] if beneath is None else [gap, np.repeat(beneath[None, :], 3, axis=0)]
        self.labels.append(label)
        self.rows.append(np.concatenate([gap, body, *line, gap]))

    @property
    def middles(self) -> list[float]:
        """Heights of the lanes' middles."""
        return [index + 0.5 for index in range(len(self.labels))]

    def draw(self, axes: Axes) -> None:
        """Put the lanes on the axes as a single image."""
        count = len(self.labels)
        axes.set_ylim(max(count, 1), 0)
        if count and self.edges.size > 1:
            extent = (float(self.edges[0]), float(self.edges[-1]), float(count), 0.0)
            axes.imshow(np.concatenate(self.rows), extent=extent, aspect="auto", interpolation="nearest", zorder=2)


def colour_table(colours: Sequence[str]) -> Colours:
    """Colours `(index, 4)` with a clear one after the last, which the index -1 picks."""
    rows = [tuple(round(255 * part) for part in to_rgba(colour)) for colour in colours]
    return np.array([*rows, CLEAR], dtype=np.uint8)


def on_edges(strip: Strip, edges: NDArray[np.float64]) -> NDArray[Any]:
    """Values of a strip at the middles of other bins; the same array when the bins agree."""
    if strip.values.shape[1] == 0 or np.array_equal(strip.edges, edges):
        return strip.values
    middles = 0.5 * (edges[1:] + edges[:-1])
    place = np.clip(np.searchsorted(strip.edges, middles, side="right") - 1, 0, strip.values.shape[1] - 1)
    return strip.values[:, place]


def layer_names(*cases: Gathered | None) -> tuple[str, ...]:
    """Names of all layers of the cases, in order, each once: their places give the colours."""
    return tuple(dict.fromkeys(name for case in cases if case for name in case.layers))


def layer_cells(case: Gathered, side: str, names: Sequence[str], edges: NDArray[np.float64]) -> Colours:
    """Colours `(corner, bin, 4)` of the layer that decided."""
    values = on_edges(case.layer[side], edges).astype(np.intp)
    place = np.array([*(names.index(name) for name in case.layers), len(names)], dtype=np.intp)
    known = np.where((values >= 0) & (values < len(case.layers)), values, len(case.layers))
    return colour_table([look.layer_colour(index) for index in range(len(names))])[place[known]]


def gravest(flags: NDArray[np.uint8]) -> NDArray[np.intp]:
    """Place in `GRAVEST_LAST` of the gravest flag that is up; -1 for none."""
    found = np.full(flags.shape, -1, dtype=np.intp)
    for place, flag in enumerate(GRAVEST_LAST):
        found[(flags & flag) > 0] = place
    return found


def flag_cells(case: Gathered, corner: int, edges: NDArray[np.float64]) -> Colours:
    """Colours `(2, bin, 4)` of the gravest flag of one corner: compression above, rebound beneath."""
    rows = np.stack([on_edges(case.flags[side], edges)[corner] for side in SIDES])
    return colour_table([look.FLAG_COLOURS[FLAG_LABELS[flag]] for flag in GRAVEST_LAST])[gravest(rows)]


def flags_seen(*cases: Gathered | None) -> list[str]:
    """Labels of the flags that came up at all, gravest first."""
    strips = [strip.values for case in cases if case for strip in case.flags.values() if strip.values.size]
    seen = int(np.bitwise_or.reduce([np.bitwise_or.reduce(values, axis=None) for values in strips])) if strips else 0
    return [FLAG_LABELS[flag] for flag in reversed(GRAVEST_LAST) if seen & flag]


def state_cells(strip: Strip, edges: NDArray[np.float64], colour: str) -> Colours:
    """Colours `(row, bin, 4)` of an active state."""
    active = on_edges(strip, edges) > HALF
    return colour_table([colour])[np.where(active, 0, -1)]


def modes_vary(case: Gathered) -> bool:
    """Whether the driver changed the mode on the way; only then is it worth a lane."""
    return bool(case.mode.values.size) and bool(np.any(case.mode.values != case.mode.values[0, 0]))


def state_lanes(candidate: Gathered, baseline: Gathered | None) -> Lanes:
    """One lane per state, corners from the top down; where the baseline differs, its state runs as a line beneath."""
    lanes = Lanes(candidate.mode.edges)
    if modes_vary(candidate):
        lanes.add(MODE_LANE, colour_table(MODE_COLOURS)[candidate.mode.values.astype(np.intp) % len(MODE_COLOURS)])
    for place, (name, strip) in enumerate(candidate.states.items()):
        before = None
        if baseline and name in baseline.states and baseline.states[name].values.size:
            values = on_edges(baseline.states[name], lanes.edges)
            if not np.array_equal(values > HALF, strip.values > HALF):
                active = np.any(values > HALF, axis=0)
                before = colour_table([look.BASELINE])[np.where(active, 0, -1)]
        lanes.add(name.replace("_", " "), state_cells(strip, lanes.edges, look.state_colour(place)), before)
    return lanes


def write_names(axes: Axes, cells: NDArray[Any], edges: NDArray[np.float64], height: float, names: Mapping[int, tuple[str, str]]) -> None:
    """Write into the long stretches of a one-row strip what they are, so that it reads in grey too.

    cells : (bin,) array
        Index of what holds in each bin; what `names` (text and colour beneath, by index) doesn't have stays unnamed.
    edges : (bin + 1,) array
        [s]
    """
    cuts = np.flatnonzero(np.diff(cells)) + 1
    for start, end in zip([0, *cuts], [*cuts, cells.size], strict=True):
        text, colour = names.get(int(cells[start]), ("", "")) if cells.size else ("", "")
        if text and end - start >= LEAST_NAMED * cells.size:
            middle = 0.5 * (edges[start] + edges[end])
            axes.text(
                middle, height, look.plain(text), color=look.text_on(colour), fontsize=look.SMALL_SIZE, ha="center", va="center", zorder=3
            )

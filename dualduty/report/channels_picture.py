"""All channels of a recording under each other, least to most over its length, so that a dead or broken one is seen at a glance."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from dualduty.report import look
from replay.suggestion.inspection import ChannelSeen, Inspection

_ROW: Final = 0.24  # inches a channel
_MOST: Final = 80  # channels in one picture
_ROOM: Final = 0.78  # of a row's height is drawn on
_LEAST: Final = 0.06  # of a row; a line that rests is still seen
_FAR: Final = 266.0  # points from the strips to what a channel is taken for
_GONE: Final = "#c8102e"


def draw_channels(seen: Inspection, taken: Mapping[tuple[int, str], str]) -> Figure:
    """A strip for each channel that holds numbers, those taken for a signal first; red beneath: no value there."""
    clocks = {(group.index, group.clock) for group in seen.groups}
    drawn = [channel for channel in seen.channels if len(channel.strip[0]) and (channel.group, channel.name) not in clocks]
    drawn.sort(key=lambda channel: (channel.group, channel.name) not in taken)
    left_out = len(drawn) - _MOST
    drawn = drawn[:_MOST]
    figure = look.new_figure(look.WIDE, 1.15 + _ROW * max(len(drawn), 1))
    more = f"; {left_out} more channels are not drawn" if left_out > 0 else ""
    look.say_title(figure, f"What {_short(seen.name)} holds", f"least to most of each stretch, each channel on its own scale{more}")
    high = figure.get_figheight()
    axes = figure.add_axes((0.31, 0.5 / high, 0.525, 1.0 - 1.05 / high))
    look.dress(axes)
    axes.set_ylim(max(len(drawn), 1), 0.0)
    axes.set_yticks([])
    for row, channel in enumerate(drawn):
        _strip(axes, row, channel, seen)
        _words(axes, row, channel, taken.get((channel.group, channel.name), ""))
    axes.set_xlim(0.0, max((_lasts(channel, seen) for channel in drawn), default=1.0))
    axes.set_xlabel(_along(seen), fontsize=look.TICK_SIZE, color=look.SOFT_INK)
    axes.xaxis.set_label_coords(0.5, -0.28 / (high - 1.05))
    look.legend_below(figure, [look.patch(look.CANDIDATE), look.patch(_GONE, hatch="////")], ["values", "no value"])
    return figure


def _strip(axes: Axes, row: int, channel: ChannelSeen, seen: Inspection) -> None:
    low, high = channel.strip
    span = channel.most - channel.least
    edges = np.linspace(0.0, _lasts(channel, seen), len(low) + 1)
    base = row + 0.5 + _ROOM / 2
    scale = _ROOM / span if span > 0.0 else 0.0
    bottom, top = ((part - channel.least) * scale if span > 0.0 else np.where(np.isnan(part), np.nan, _ROOM / 2) for part in (low, high))
    bottom, top = _joined(bottom, top)
    steps: dict[str, Any] = {"step": "post", "linewidth": 0.0}
    axes.fill_between(edges, base - _closed(bottom), base - _closed(top), color=look.CANDIDATE, zorder=3, **steps)
    gone = np.isnan(low)
    if gone.any():
        where = _closed(gone.astype(float)) > 0.5  # noqa: PLR2004 - a flag
        row_low, row_high = np.full(len(edges), row + 0.08), np.full(len(edges), row + 0.92)
        hatched: dict[str, Any] = {"facecolor": "none", "edgecolor": _GONE, "hatch": "////", "linewidth": 0.4}
        axes.fill_between(edges, row_low, row_high, where=where.tolist(), step="post", zorder=2, **hatched)
    axes.axhline(row + 1.0, color=look.GRID, linewidth=0.6, zorder=1)


def _joined(bottom: Any, top: Any) -> tuple[Any, Any]:
    """Each stretch reaches to the one before it, as a line through all samples would."""
    low, high = (
        np.fmin(bottom[1:], np.where(np.isnan(bottom[1:]), np.nan, top[:-1])),
        np.fmax(top[1:], np.where(np.isnan(top[1:]), np.nan, bottom[:-1])),
    )
    bottom, top = np.concatenate([bottom[:1], low]), np.concatenate([top[:1], high])
    return bottom - _LEAST / 2, top + _LEAST / 2


def _closed(values: Any) -> Any:
    """One value for each edge: the last stretch ends at the last edge."""
    return np.append(values, values[-1])


def _words(axes: Axes, row: int, channel: ChannelSeen, taken: str) -> None:
    beside: dict[str, Any] = {"textcoords": "offset points", "fontsize": look.TICK_SIZE, "va": "center"}
    across = axes.get_yaxis_transform()
    unit = f" [{channel.unit}]" if channel.unit and channel.unit not in channel.name else ""
    name = look.plain(look.shorten(f"{channel.name}{unit}", 26))
    axes.annotate(name, (0.0, row + 0.5), (-8.0, 0.0), xycoords=across, ha="right", color=look.INK, **beside)
    if taken:
        said = look.plain(look.shorten(taken, 38))
        axes.annotate(said, (0.0, row + 0.5), (-_FAR, 0.0), xycoords=across, ha="left", color=look.SOFT_INK, **beside)
    span = f"{channel.least:.4g} to {channel.most:.4g}"
    blank = f", {100 * channel.blank:.2g} % blank" if channel.blank else ""
    axes.annotate(f"{span}{blank}", (1.0, row + 0.5), (8.0, 0.0), xycoords=across, ha="left", color=look.INK, **beside)


def _lasts(channel: ChannelSeen, seen: Inspection) -> float:
    lasts = seen.groups[channel.group].lasts
    return lasts if _timed(seen) else float(channel.samples)


def _timed(seen: Inspection) -> bool:
    return all(group.lasts > 0.0 for group in seen.groups)


def _along(seen: Inspection) -> str:
    return "time, s" if _timed(seen) else "sample; the log has no stamps"


def _short(name: str) -> str:
    return look.shorten(name.rsplit("/", 1)[-1].rsplit("\\", 1)[-1], 60)

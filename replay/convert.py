"""From what a logger wrote down to SI: curve, gain and shift of a channel, or a threshold for a button."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from replay.channel_map import Channel

Array = NDArray[np.float64]


def to_si(recorded: Array, channel: Channel, out: Array) -> None:
    """Fill `out` with what was recorded, in SI; what is not finite becomes NaN.

    recorded : (sample,) array
        As it stands in the file. [as recorded]
    out : (sample,) array
        May be a row of a larger array. [SI]
    """
    with np.errstate(over="ignore", invalid="ignore"):
        if channel.on_above is not None:
            _pressed(recorded, channel.on_above, out)
            return
        np.multiply(_looked_up(recorded, channel), channel.gain, out=out)
        if channel.shift:
            out += channel.shift
        if not np.isfinite(out.sum()):
            out[~np.isfinite(out)] = np.nan


def _pressed(recorded: Array, threshold: float, out: Array) -> None:
    np.greater(recorded, threshold, out=out)
    out[~np.isfinite(recorded)] = np.nan


def _looked_up(recorded: Array, channel: Channel) -> Array:
    """Along the channel's curve; beyond its ends the last slope is held."""
    if not channel.curve:
        return recorded
    points = np.array(channel.curve if channel.curve[0][0] < channel.curve[-1][0] else channel.curve[::-1])
    at, value = points.T
    slopes = np.diff(value) / np.diff(at)
    segment = np.clip(np.searchsorted(at, recorded, side="right") - 1, 0, len(slopes) - 1)
    found: Array = value[segment] + slopes[segment] * (recorded - at[segment])
    return found

"""From what a logger wrote down to SI: curve, gain and shift of a channel, or a threshold for a button."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from replay.channels.channel_map import Channel

Array = NDArray[np.float64]
LARGEST: Final = 1e15  # SI; beyond it are fill values and bytes that were never a number


def to_si(recorded: Array, channel: Channel, out: Array) -> None:
    """Fill `out` with what was recorded, in SI; what is not finite, or is no number that a sensor gives, becomes NaN.

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
        if not out.dot(out) < LARGEST**2:  # a quick look at all of them at once
            out[~(np.abs(out) < LARGEST)] = np.nan


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

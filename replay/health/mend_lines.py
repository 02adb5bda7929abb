"""Lines of a channel map that put right what was found, as they would stand in the file."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from dualduty.signals import CORNERS
from replay.health.mounting_identity import Matrix, axis_words

if TYPE_CHECKING:
    from replay.channels.channel_map import ChannelMap
    from replay.channels.mounting import Mounting

_KEPT: Final = ("column", "alternatives", "unit", "scale", "curve", "bridge_ms", "latency_ms", "group")


def travel_line(channel_map: ChannelMap, mapped: int, corner: int, sign: float, zero: float) -> str:
    """The line of [signals.shaft_travel] for a corner that the channel mapped to `mapped` belongs to.

    `zero` is what the value as mapped now is taken from where the channel is turned round, NaN unknown. [m]
    """
    table = _table(channel_map)
    entry = table.get(CORNERS[mapped], table.get(CORNERS[mapped].replace("_", "-"), {}))
    channel = next((found for found in channel_map.channels if found.name == "shaft_travel" and found.corner == mapped), None)
    entry = {"column": entry} if isinstance(entry, str) else dict(entry)
    if channel is not None:
        entry.setdefault("column", channel.columns[0])
    now = float(entry.get("sign", table.get("sign", 1)))
    scale = float(entry.get("scale", table.get("scale", 1.0)))
    made = {key: entry[key] for key in _KEPT if key in entry}
    offset = entry.get("offset")
    if sign < 0.0 or now < 0.0 or offset is not None:
        made["sign"] = int(sign * now)
        if sign < 0.0 and channel is not None and not np.isnan(zero):
            offset = round(float((zero - channel.shift) / (-channel.gain / scale)), 1)
        if offset is not None:
            made["offset"] = offset
    told = _toml(made["column"]) if list(made) == ["column"] else "{ " + ", ".join(f"{key} = {_toml(made[key])}" for key in made) + " }"
    return f"[signals.shaft_travel] {CORNERS[corner]} = {told}"


def unit_line(axes: Matrix, mounting: Mounting | None) -> str:
    """The lines of [inertial_unit]: `axes` in the axes the map gives now, turned on by what it says of the unit's own."""
    whole = np.array(axes) @ (np.eye(3) if mounting is None else np.array(mounting.axes))
    if np.abs(whole).max(axis=1).min() < 0.999:  # noqa: PLR2004 - not by quarter turns
        forward, left, up = (axis_words(row) for row in axes)
        return f'[inertial_unit] turn what it gives now once more: forward = "{forward}", left = "{left}", up = "{up}"'
    forward, left, up = (axis_words(tuple(np.round(row).tolist())) for row in whole)
    return f'[inertial_unit] forward = "{forward}", left = "{left}", up = "{up}"'


def _table(channel_map: ChannelMap) -> dict[str, Any]:
    path = Path(channel_map.file)
    if not path.is_file():
        return {}
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8")).get("signals", {}).get("shaft_travel", {})
    except (tomllib.TOMLDecodeError, UnicodeDecodeError):
        return {}
    return table if isinstance(table, dict) else {}


def _toml(value: Any) -> str:
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, list):
        return "[" + ", ".join(_toml(part) for part in value) + "]"
    return f"{value:g}" if isinstance(value, float) else str(value)

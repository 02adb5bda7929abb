"""Open a log of any format through a channel map."""

from __future__ import annotations

from pathlib import Path

from replay.channels.channel_map import ChannelMap, resolve
from replay.log import Log
from replay.open_recording import open_recording


def open_log(path: Path | str, channel_map: ChannelMap) -> Log:
    """A recording set against a channel map; BadInput when it can't be read, or lacks its time or mode column.

    Signals that the map names and the log lacks are listed in `resolved.missing`; whether that matters is up to the strategy.
    """
    recording = open_recording(Path(path), channel_map.form, time=channel_map.time)
    return Log(recording, channel_map, resolve(channel_map, recording.groups, recording.name))

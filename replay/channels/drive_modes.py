"""The drive mode of each sample, from whatever the logger wrote down."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.channels.channel_map import ChannelMap


def mode_indices(channel_map: ChannelMap, values: NDArray[Any], place: Callable[[int], str]) -> NDArray[np.float64]:
    """Index into the map's modes for recorded values, NaN where blank; `place(index)` names a sample for BadInput."""
    import pandas as pd

    from replay.channels.channel_map_file import recorded

    codes, uniques = pd.factorize(values)
    source = channel_map.mode
    table = np.full(len(uniques) + 1, np.nan)  # the last entry serves the code -1 of a blank
    for code, value in enumerate(uniques):
        spelled = recorded(value)
        if not spelled:
            continue
        if spelled not in source.names:
            expected = ", ".join(f"{key!r} ({name})" for key, name in source.names.items())
            raise BadInput(
                place(int(np.argmax(codes == code))),
                f"drive mode {spelled!r} is not in {channel_map.file}: mode.names; expected {expected}",
            )
        table[code] = source.modes.index(source.names[spelled])
    found: NDArray[np.float64] = table[codes]
    return found

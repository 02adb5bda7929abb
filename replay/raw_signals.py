"""Signals of a log at their own rates, whole: what scoring and offline work see, as against what the controller saw."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from replay.log import Log

Array = NDArray[np.float64]


@dataclass(frozen=True)
class RawSignal:
    """One row of a signal.

    time : (sample,) array
        Since the log's first stamp, as stamped: without the controller's latency. [s]
    values : (sample,) array
        NaN where there is no value. [SI]
    """

    time: Array
    values: Array


def raw_signals(log: Log, names: Collection[str], needed: Collection[str] = ()) -> dict[str, list[RawSignal]]:
    """Signals by name, one entry per corner that the log has, in order; those without any column are left out."""
    wanted = {row: name for name, rows in log.layout.rows.items() if name in names for row in range(rows.start, rows.stop)}
    pieces: dict[int, list[tuple[Array, Array]]] = {}
    for part in log.parts(needed):
        latency = log.streams[part.stream].latency
        for at, row in enumerate(part.rows.tolist()):
            if row in wanted and len(part.time):
                pieces.setdefault(row, []).append((part.time - latency, part.values[at]))
    found: dict[str, list[RawSignal]] = {}
    for row in sorted(pieces):
        time, values = (np.concatenate(side) for side in zip(*pieces[row], strict=True))
        found.setdefault(wanted[row], []).append(RawSignal(time, values))
    return found

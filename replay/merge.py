"""All groups of a recording side by side: the one that lags is read on, so that no more than a block of each is held."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from dualduty.errors import BadInput
from replay.group_reader import GroupReader, Samples
from replay.log import Log, LogPart, Stream
from replay.notice import Notice


def in_order(log: Log, notices: list[Notice]) -> Iterator[LogPart]:
    """Parts of all streams of a log; what was set aside on the way is added to `notices`."""
    groups = sorted({stream.group for stream in log.streams})
    readers = [GroupReader(log, group, notices) for group in groups]
    origin = min((reader.first_stamp for reader in readers if reader.first_stamp is not None), default=None)
    if origin is None:
        raise BadInput(log.name, "the log is empty: expected at least one row of numbers")
    reached = dict.fromkeys(range(len(readers)), -np.inf)
    while reached:
        at = min(reached, key=reached.__getitem__)
        samples = readers[at].next(origin)
        for stream in (stream for stream in log.streams if stream.group == groups[at]):
            yield _ended(stream) if samples is None else _part(stream, samples)
        if samples is None:
            readers[at].end()
            del reached[at]
        else:
            reached[at] = float(samples.time[-1])


def _part(stream: Stream, samples: Samples) -> LogPart:
    whole = len(stream.rows) == len(samples.rows)  # the only stream of its group: nothing is copied
    values = samples.values if whole else samples.values[[samples.place[row] for row in stream.rows.tolist()]]
    rows = samples.rows if whole else stream.rows
    time = samples.time + stream.latency if stream.latency else samples.time
    return LogPart(stream.index, rows, samples.stamps, time, values, samples.lines, samples.done)


def _ended(stream: Stream) -> LogPart:
    nothing = np.empty(0)
    return LogPart(
        stream.index, stream.rows, nothing, nothing, np.empty((len(stream.rows), 0)), np.empty(0, dtype=np.int64), 1.0, ended=True
    )

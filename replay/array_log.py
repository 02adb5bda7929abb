"""A log from arrays or a data frame in memory; the same words as a log file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.signals import CONTROLLER_SIGNALS, INSTRUMENTATION
from replay.channel_map import Channel, ChannelMap, Found, ModeSource, Resolved, TimeBase, resolve
from replay.log import Log, LogPart, mode_indices

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
PART: Final = 32_768  # samples a part: 25 rows of it are 6.5 MB


@dataclass
class ArrayLog(Log):
    """A log held in memory: stamps, one column per channel found, and drive modes."""

    stamps: Array = field(default_factory=lambda: np.empty(0))
    columns: list[Array] = field(default_factory=list)
    mode: NDArray[np.int16] = field(default_factory=lambda: np.empty(0, dtype=np.int16))

    def read(self) -> Iterator[LogPart]:
        """A fresh pass over the samples, unchecked."""
        factor = self.channel_map.time.factor
        absent = sorted(set(range(self.layout.size)) - {found.row for found in self.resolved.found})
        for start in range(0, len(self.stamps), PART):
            cut = slice(start, start + PART)
            stamps = self.stamps[cut]
            values = np.empty((self.layout.size, len(stamps)))
            values[absent] = np.nan
            for found, column in zip(self.resolved.found, self.columns, strict=True):
                fill_row(values[found.row], column[cut], found.channel)
            lines = np.arange(start, start + len(stamps))
            yield LogPart(
                stamps, (stamps - self.stamps[0]) * factor, values, self.mode[cut], lines, min(1.0, (start + PART) / len(self.stamps))
            )


def fill_row(row: Array, recorded: Array, channel: Channel) -> None:
    """Write what was recorded into a row of a part [SI]; what is not finite becomes NaN."""
    with np.errstate(over="ignore", invalid="ignore"):
        np.multiply(recorded, channel.gain, out=row)
        if channel.shift:
            row += channel.shift
        if not np.isfinite(row.sum()):
            row[~np.isfinite(row)] = np.nan


def log_of_arrays(
    time: Array, signals: Mapping[str, Array], mode: str | Array, *, modes: tuple[str, ...] = (), name: str = "arrays", driven_by: str = ""
) -> ArrayLog:
    """A log of arrays in SI.

    Parameters
    ----------
    time : (sample,) array
        Stamps. [s]
    signals : dict of (sample,) or (corner, sample) arrays
        By signal name: those of the controller, and instrumentation. [SI]
    mode : str or (sample,) int array
        One drive mode throughout, or the index into `modes` of each sample.
    """
    known = {signal.name: signal for signal in (*CONTROLLER_SIGNALS, *INSTRUMENTATION)}
    rows: list[tuple[Channel, Array]] = []
    for key, values in signals.items():
        if key not in known:
            raise BadInput(name, f"{key!r} is not a signal of the controller or of the instrumentation")
        shaped = np.atleast_2d(np.asarray(values, dtype=np.float64))
        if shaped.shape != (known[key].corners, len(time)):
            raise BadInput(name, f"{key} is {np.shape(values)}; expected ({known[key].corners}, {len(time)})")
        rows += [(Channel(key, corner, (f"{key}[{corner}]",), key=key), row) for corner, row in enumerate(shaped)]
    source = (
        ModeSource(constant=mode) if isinstance(mode, str) else ModeSource(names={str(index): text for index, text in enumerate(modes)})
    )
    extra = tuple(known[key] for key in signals if known[key] in INSTRUMENTATION)
    channel_map = ChannelMap(name, TimeBase(("time",)), source, tuple(channel for channel, _ in rows), extra, driven_by)
    layout = channel_map.layout
    found = [
        Found(channel, layout.rows[channel.name].start + channel.corner, channel.columns[0], channel.label(known[channel.name].corners))
        for channel, _ in rows
    ]
    index = np.zeros(len(time), dtype=np.int16) if isinstance(mode, str) else np.asarray(mode, dtype=np.int16)
    stamps = np.ascontiguousarray(time, dtype=np.float64)
    resolved = Resolved(tuple(found), {}, "time", "")
    return ArrayLog(name, channel_map, resolved, "sample", stamps=stamps, columns=[row for _, row in rows], mode=index)


def log_of_frame(frame: pd.DataFrame, channel_map: ChannelMap, name: str = "data frame") -> ArrayLog:
    """A log of a data frame, read through a channel map."""
    if not len(frame):
        raise BadInput(name, "the log is empty: expected at least one row of numbers")
    resolved = resolve(channel_map, [str(column) for column in frame.columns], name)
    at = {str(column): index for index, column in enumerate(frame.columns)}
    columns = [_numbers(frame.iloc[:, at[found.column]], found.column, name) for found in resolved.found]
    if resolved.time_column:
        stamps = _numbers(frame.iloc[:, at[resolved.time_column]], resolved.time_column, name)
    else:
        stamps = np.arange(len(frame)) / channel_map.time.rate
    mode = _modes(frame, channel_map, at.get(resolved.mode_column), name)
    return ArrayLog(name, channel_map, resolved, "sample", stamps=stamps, columns=columns, mode=mode)


def _numbers(column: pd.Series[Any], label: str, name: str) -> Array:
    import pandas as pd

    try:
        return np.ascontiguousarray(column.to_numpy(dtype=np.float64, na_value=np.nan))
    except (TypeError, ValueError):
        numbers = pd.to_numeric(column, errors="coerce")
        at = int(np.argmax((numbers.isna() & column.notna()).to_numpy()))
        raise BadInput(f"{name} sample {at}", f"column {label!r}: expected a number, came {column.iloc[at]!r}") from None


def _modes(frame: pd.DataFrame, channel_map: ChannelMap, at: int | None, name: str) -> NDArray[np.int16]:
    if at is None:
        return np.zeros(len(frame), dtype=np.int16)
    return mode_indices(channel_map, frame.iloc[:, at].to_numpy(dtype=object), lambda index: f"{name} sample {index}")

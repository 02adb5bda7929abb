"""A log from arrays or a data frame in memory; the same words as a log file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.signals import CONTROLLER_SIGNALS, INSTRUMENTATION
from replay.channels.channel_map import Channel, ChannelMap, ModeSource, TimeBase, resolve
from replay.log import Log
from replay.recording import Block, Column, Group, Recording

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
PART: Final = 32_768  # samples a part: 25 rows of it are 6.5 MB


@dataclass
class ArrayRecording(Recording):
    """A recording held in memory: numbers and texts by column name."""

    numbers: dict[str, Array] = field(default_factory=dict)
    texts: dict[str, NDArray[Any]] = field(default_factory=dict)
    samples: int = 0

    def blocks(self, group: int, numbers: Sequence[str], texts: Sequence[str] = ()) -> Iterator[Block]:
        """A fresh pass over the arrays."""
        for start in range(0, self.samples, PART):
            stop = min(start + PART, self.samples)
            yield Block(
                {name: self.numbers[name][start:stop] for name in numbers},
                {name: self.texts[name][start:stop] for name in texts},
                np.arange(start, stop),
                stop / self.samples,
            )


def recording_of(numbers: Mapping[str, Array], texts: Mapping[str, NDArray[Any]], name: str = "arrays") -> ArrayRecording:
    """A recording of columns of one length, one clock."""
    columns = tuple(Column(column) for column in (*numbers, *texts))
    samples = len(next(iter({**numbers, **texts}.values()), ()))
    return ArrayRecording(name, (Group("", columns),), counts="sample", numbers=dict(numbers), texts=dict(texts), samples=samples)


def log_of_arrays(
    time: Array, signals: Mapping[str, Array], mode: str | Array, *, modes: tuple[str, ...] = (), name: str = "arrays", driven_by: str = ""
) -> Log:
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
    channels: list[Channel] = []
    numbers: dict[str, Array] = {"time": np.ascontiguousarray(time, dtype=np.float64)}
    for key, values in signals.items():
        if key not in known:
            raise BadInput(name, f"{key!r} is not a signal of the controller or of the instrumentation")
        shaped = np.atleast_2d(np.asarray(values, dtype=np.float64))
        if shaped.shape != (known[key].corners, len(time)):
            raise BadInput(name, f"{key} is {np.shape(values)}; expected ({known[key].corners}, {len(time)})")
        for corner, row in enumerate(shaped):
            channels.append(Channel(key, corner, (f"{key}[{corner}]",), key=key))
            numbers[f"{key}[{corner}]"] = row
    texts: dict[str, NDArray[Any]] = {}
    source = ModeSource(constant=mode) if isinstance(mode, str) else ModeSource(("mode",), {str(at): text for at, text in enumerate(modes)})
    if not isinstance(mode, str):
        texts["mode"] = np.asarray(mode, dtype=np.int64)
    extra = tuple(known[key] for key in signals if known[key] in INSTRUMENTATION)
    channel_map = ChannelMap(name, TimeBase(("time",)), source, tuple(channels), extra, driven_by)
    recording = recording_of(numbers, texts, name)
    return Log(recording, channel_map, resolve(channel_map, recording.groups, name))


def log_of_frame(frame: pd.DataFrame, channel_map: ChannelMap, name: str = "data frame") -> Log:
    """A log of a data frame, read through a channel map."""
    if not len(frame):
        raise BadInput(name, "the log is empty: expected at least one row of numbers")
    group = Group("", tuple(Column(str(column)) for column in frame.columns))
    resolved = resolve(channel_map, (group,), name)
    at = {str(column): index for index, column in enumerate(frame.columns)}
    wanted = [*(found.column for found in resolved.found), *resolved.time_columns]
    numbers = {column: _numbers(frame.iloc[:, at[column]], column, name) for column in dict.fromkeys(wanted) if column}
    mode = resolved.mode_column
    texts = {mode: frame.iloc[:, at[mode]].to_numpy(dtype=object)} if mode else {}
    recording = ArrayRecording(name, (group,), counts="sample", numbers=numbers, texts=texts, samples=len(frame))
    return Log(recording, channel_map, resolved)


def _numbers(column: pd.Series[Any], label: str, name: str) -> Array:
    import pandas as pd

    try:
        return np.ascontiguousarray(column.to_numpy(dtype=np.float64, na_value=np.nan))
    except (TypeError, ValueError):
        numbers = pd.to_numeric(column, errors="coerce")
        at = int(np.argmax((numbers.isna() & column.notna()).to_numpy()))
        raise BadInput(f"{name} sample {at}", f"column {label!r}: expected a number, came {column.iloc[at]!r}") from None

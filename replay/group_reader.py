"""One group of a recording, made into SI block by block: clock, columns, drive mode, the inertial unit turned.

Time must run forward. A sample stamped not after the newest before it (sent twice, or out of order) is set aside, and that is
told; a stamp that lies far back is another recording in the same file, or a clock that was set, and ends the reading.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.channels.convert import to_si
from replay.channels.drive_modes import mode_indices
from replay.channels.mounting import FORCES, RATES
from replay.log import Log
from replay.notice import Notice
from replay.recording import Block

Array = NDArray[np.float64]
RESTART: Final = 2.0  # s; our choice: no queue of a logger delivers a sample this late
MOST_NOTICES: Final = 20  # places told; the rest are counted


@dataclass(frozen=True)
class Samples:
    """A block in SI: `rows` of the log's layout, in this order in `values`; `place` finds a row's index."""

    rows: NDArray[np.intp]
    place: dict[int, int]
    stamps: Array
    time: Array
    values: Array
    lines: NDArray[np.int64]
    done: float


class GroupReader:
    """Reads one group of a log once, in order."""

    def __init__(self, log: Log, group: int, notices: list[Notice]) -> None:
        self._log = log
        self._group = group
        self._notices = notices
        self._found = log.found_in(group)
        self._mode = group == log.resolved.mode_group and bool(log.resolved.mode_column)
        self._clock = log.resolved.time_columns[group]
        rows = [row for stream in log.streams if stream.group == group for row in stream.rows.tolist()]
        self._rows = np.array(rows, dtype=np.intp)
        self._place = {row: index for index, row in enumerate(rows)}
        self._newest = -np.inf
        self._aside: list[Notice] = []
        self._samples = self._set_aside = 0
        mounting = log.channel_map.mounting
        turned = mounting is not None and any(found.channel.name in mounting.needs for found in self._found)
        self._turning = mounting.start() if mounting is not None and turned else None
        self._blocks = self._open()
        self._first = next(self._blocks, None)

    @property
    def first_stamp(self) -> float | None:
        """The first stamp of the group, in the unit of the log's clock; None without samples, and once they were read."""
        return None if self._first is None else float(self._first[1][0])

    def next(self, origin: float) -> Samples | None:
        """The next block, its time counted from `origin`; None at the end."""
        entry = self._first or next(self._blocks, None)
        self._first = None
        return None if entry is None else self._samples_of(*entry, origin)

    def end(self) -> None:
        """Tell what was set aside."""
        self._notices.extend(self._aside)
        if not self._set_aside:
            return
        share = self._set_aside / max(self._samples, 1)
        text = f"{self._set_aside} of {self._samples} samples set aside: stamped not after the one before"
        coarse = "; the stamps are coarser than the samples: give the map rate_hz instead" if share > 0.2 else ""  # noqa: PLR2004 - our choice
        self._notices.append(Notice("stamps", self._log.recording.groups[self._group].name, np.nan, 0.0, text + coarse))

    def _open(self) -> Iterator[tuple[Block, Array]]:
        numbers = dict.fromkeys(found.column for found in self._found)
        if self._clock:
            numbers[self._clock] = None
        texts = [self._log.resolved.mode_column] if self._mode else []
        samples = 0
        for raw in self._log.recording.blocks(self._group, list(numbers), texts):
            recorded = self._stamps(raw, samples)
            samples += len(recorded)
            block, stamps = self._forward(*self._without_blanks(raw, recorded))
            if len(stamps):
                yield block, stamps

    def _stamps(self, block: Block, before: int) -> Array:
        if self._clock:
            return block.numbers[self._clock]
        if block.stamps is not None:
            return block.stamps
        rate = self._log.channel_map.time.rate
        if not rate:
            raise BadInput(self._log.name, f"has no clock of its own; {self._log.channel_map.file} must name a time column, or rate_hz")
        return np.arange(before, before + len(block.lines)) / rate

    def _without_blanks(self, block: Block, stamps: Array) -> tuple[Block, Array]:
        """Without rows that hold nothing at all; a row with values and no time is an error."""
        bad = ~np.isfinite(stamps)
        if not bad.any():
            return block, stamps
        holds = np.zeros(len(stamps), dtype=bool)
        for name, column in block.numbers.items():
            holds |= ~np.isnan(column) if name != self._clock else False
        wrong = bad & (holds | np.isinf(stamps))
        if wrong.any():
            raise BadInput(self._place_of(block, int(np.argmax(wrong))), "time is blank or not a number")
        return _kept(block, ~bad), stamps[~bad]

    def _forward(self, block: Block, stamps: Array) -> tuple[Block, Array]:
        self._samples += len(stamps)
        before = np.concatenate([[self._newest], stamps])
        if not len(stamps) or (np.diff(before) > 0).all():
            self._newest = float(before[-1])
            return block, stamps
        newest = np.maximum.accumulate(before)[:-1]
        late = stamps <= newest
        back = (newest - stamps) * self._log.channel_map.time.factor
        for first in np.flatnonzero(late & np.concatenate([[True], ~late[:-1]]))[: MOST_NOTICES - len(self._aside)].tolist():
            back_to = f"time runs backwards: {stamps[first]:.15g} after {newest[first]:.15g}"
            word = back_to if back[first] > 0 else f"time stands still at {stamps[first]:.15g}"
            self._aside.append(Notice("stamp", "", np.nan, 0.0, f"{self._place_of(block, first)}: {word}; set aside"))
        if back.max() > RESTART:
            at = int(np.argmax(back > RESTART))
            problem = f"time runs backwards by {back[at]:.6g} s: {stamps[at]:.15g} after {newest[at]:.15g}"
            raise BadInput(self._place_of(block, at), f"{problem}; two recordings in one file, or a clock that was set: cut the log here")
        self._set_aside += int(late.sum())
        self._newest = float(np.maximum(newest[-1], stamps[-1]))
        return _kept(block, ~late), stamps[~late]

    def _place_of(self, block: Block, sample: int) -> str:
        return self._log.recording.place(self._group, int(block.lines[sample]))

    def _samples_of(self, block: Block, stamps: Array, origin: float) -> Samples:
        values = np.empty((len(self._rows), len(stamps)))
        unit: dict[int, Array] = {}  # what an inertial unit that is not mounted straight gives, by row
        for found in self._found:
            straight = self._turning is None or found.channel.name not in (*FORCES, *RATES)
            into = values[self._place[found.row]] if straight else unit.setdefault(found.row, np.empty(len(stamps)))
            to_si(block.numbers[found.column], found.channel, into)
        if self._mode:
            values[self._place[self._log.mode_row]] = mode_indices(
                self._log.channel_map,
                block.texts[self._log.resolved.mode_column],
                lambda index: self._place_of(block, index),
            )
        with np.errstate(over="ignore", invalid="ignore"):
            time = (stamps - origin) * self._log.channel_map.time.factor
        if self._turning is not None:
            self._turn(self._turning.turn(time, *(self._components(unit, names, len(time)) for names in (FORCES, RATES))), values)
        return Samples(self._rows, self._place, stamps, time, values, block.lines, block.done)

    def _components(self, unit: Mapping[int, Array], names: Sequence[str], samples: int) -> Array:
        """What the unit itself gives along or about its three axes, NaN where it has no column."""
        rows = [self._log.layout.rows[name].start for name in names]
        return np.stack([unit.get(row, np.full(samples, np.nan)) for row in rows])

    def _turn(self, turned: tuple[Array, Array], values: Array) -> None:
        """Put in what the vehicle's axes get."""
        for names, made in zip((FORCES, RATES), turned, strict=True):
            for name, row in zip(names, made, strict=True):
                at = self._place.get(self._log.layout.rows[name].start)
                if at is not None:
                    values[at] = row


def _kept(block: Block, keep: NDArray[np.bool_]) -> Block:
    return Block(
        {name: column[keep] for name, column in block.numbers.items()},
        {name: column[keep] for name, column in block.texts.items()},
        block.lines[keep],
        block.done,
    )

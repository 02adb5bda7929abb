"""Logged ticks shifted onto the replayed ones by the offset that was found, with the range that the replay had around each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from replay.sameness.logged_beside import Beside, Logged
from replay.sameness.time_offset import LONGEST, TimeOffset

Array = NDArray[np.float64]
MOVED_WITHIN: Final = 0.2  # s; a duty that moved within so long counts as moving


@dataclass(frozen=True)
class OneState:
    """A state over a block, (1 or 4, time) arrays: logged, and replayed with its lowest and highest value nearby. NaN: not logged."""

    logged: Array
    replayed: Array
    low: Array
    high: Array


@dataclass(frozen=True)
class Block:
    """Some consecutive replayed ticks and what was logged of them.

    logged : (8, time) array
        Logged duty of each replayed tick, NaN where there is none. [1]
    moved : (8, time) array
        How far the logged duty has moved within the last `MOVED_WITHIN`. [1]
    replayed, low, high : (8, time) arrays
        Replayed duty, and its range within the slack either way. [1]
    layer, mode, settled, states
        As in `Beside`.
    """

    start: int
    logged: Array
    moved: Array
    replayed: Array
    low: Array
    high: Array
    layer: NDArray[np.int16]
    mode: NDArray[np.int16]
    settled: NDArray[np.bool_]
    states: dict[str, OneState]

    @property
    def ticks(self) -> int:
        """Number of ticks."""
        return len(self.mode)


def shifted(pieces: Iterable[Beside], offset: TimeOffset, logged: Logged, slack: int, dt: float) -> Iterator[Block]:
    """Blocks of all ticks in order; memory doesn't grow with the log. An offset that wasn't found counts as none."""
    margin = round(LONGEST / dt) + max(slack, round(MOVED_WITHIN / dt)) + 2
    shift = _Shift(offset, logged.expected_ticks, slack, dt)
    held: Beside | None = None
    done = 0
    for piece in pieces:
        held = piece if held is None else _joined(held, piece)
        end = held.start + held.ticks - margin
        if end > done:
            yield shift.block(held, done, end)
            done = end
            held = _cut(held, max(done - margin, held.start))
    if held is not None and held.start + held.ticks > done:
        yield shift.block(held, done, held.start + held.ticks)


@dataclass(frozen=True)
class _Shift:
    offset: TimeOffset
    expected: float
    slack: int
    dt: float

    def block(self, held: Beside, first: int, end: int) -> Block:
        found = self.offset.at(0.5 * (first + end) * self.dt) if self.offset.stretches else 0.0
        late = min(max(found, -LONGEST), LONGEST) / self.dt
        whole = round(late + self.expected)
        here = slice(first - held.start, end - held.start)
        low, high = self._range(held.replayed, here)
        states = {}
        for name, (recorded, replayed) in held.states.items():
            lowest, highest = self._range(replayed, here)
            states[name] = OneState(_at(recorded, here, round(late)), replayed[:, here], lowest, highest)
        return Block(
            first, _at(held.logged, here, whole), self._moved(held.logged, here, whole), held.replayed[:, here], low, high,
            held.layer[:, here], held.mode[here], held.settled[here], states,
        )  # fmt: skip

    def _moved(self, logged: Array, here: slice, later: int) -> Array:
        from scipy.ndimage import maximum_filter1d, minimum_filter1d

        back = round(MOVED_WITHIN / self.dt)
        before = _at(logged, slice(here.start - back, here.stop), later)
        unknown = np.isnan(before)
        high = maximum_filter1d(np.where(unknown, -np.inf, before), back + 1, axis=1, origin=back // 2)
        low = minimum_filter1d(np.where(unknown, np.inf, before), back + 1, axis=1, origin=back // 2)
        return np.asarray((high - low)[:, back:])

    def _range(self, rows: Array, here: slice) -> tuple[Array, Array]:
        from scipy.ndimage import maximum_filter1d, minimum_filter1d

        begin = max(here.start - self.slack, 0)
        around = rows[:, begin : here.stop + self.slack]
        cut = slice(here.start - begin, here.stop - begin)
        size = 2 * self.slack + 1
        return minimum_filter1d(around, size, axis=1)[:, cut], maximum_filter1d(around, size, axis=1)[:, cut]


def _at(rows: Array, here: slice, later: int) -> Array:
    """Rows read `later` ticks later; NaN beyond their ends."""
    place = np.arange(here.start, here.stop) + later
    inside = (place >= 0) & (place < rows.shape[1])
    return np.where(inside, rows[:, np.clip(place, 0, rows.shape[1] - 1)], np.nan)


def _joined(first: Beside, second: Beside) -> Beside:
    joined: dict[str, Any] = {
        field.name: np.concatenate([getattr(first, field.name), getattr(second, field.name)], axis=-1)
        for field in fields(Beside)
        if field.name not in ("start", "states")
    }
    states = {
        name: (np.concatenate([pair[0], second.states[name][0]], axis=1), np.concatenate([pair[1], second.states[name][1]], axis=1))
        for name, pair in first.states.items()
    }
    return Beside(start=first.start, states=states, **joined)


def _cut(held: Beside, start: int) -> Beside:
    """The ticks from `start` on, copied so that the rest can be let go."""
    at = start - held.start
    cut: dict[str, Any] = {
        field.name: getattr(held, field.name)[..., at:].copy() for field in fields(Beside) if field.name not in ("start", "states")
    }
    states = {name: (pair[0][:, at:].copy(), pair[1][:, at:].copy()) for name, pair in held.states.items()}
    return Beside(start=start, states=states, **cut)

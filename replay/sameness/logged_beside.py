"""Logged duties and states beside the replayed ones, tick by tick: what there is to compare, and which ticks can't be."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import CONTROLLER_LAYOUT, CORNERS, SIDES
from dualduty.trace import Header, Trace, TraceChunk

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

SETTLE: Final = 3.0  # s; on the demo logs the filters have forgotten an unknown start by then
GAP: Final = 0.05  # s; a shorter blank is bridged by the controller as by the vehicle's own
LOOKED_AT: Final = 600.0  # s; a channel that stays blank for so long is not logged
COMMANDS: Final = "logged commands"
APPLIED: Final = "logged applied duties, one tick later"
NO_DUTIES: Final = "no duties"


@dataclass(frozen=True)
class Logged:
    """What a log says of its own controller: where its duties stand among the signals, and the states that can be compared."""

    duties: str
    sides: tuple[str, ...]
    states: tuple[str, ...]
    foreign: tuple[str, ...] = ()

    @property
    def expected_ticks(self) -> float:
        """By how many ticks the duties are late by their nature."""
        return 1.0 if self.duties == APPLIED else 0.0


@dataclass(frozen=True)
class Beside:
    """Some consecutive ticks of one case; rows of eight are compression front-left to rear-right, then rebound.

    logged, replayed : (8, time) arrays
        Duties, NaN where nothing was logged. [1]
    layer : (8, time) int array
        Replayed layer that decided.
    mode : (time,) int array
        Drive-mode index.
    settled : (time,) bool array
        False while settling after the start or a gap, and in a gap.
    states : dict of pairs of (1 or 4, time) arrays
        Logged and replayed, 0 or 1, NaN where not logged.
    """

    start: int
    logged: Array
    replayed: Array
    layer: NDArray[np.int16]
    mode: NDArray[np.int16]
    settled: Bools
    states: dict[str, tuple[Array, Array]]

    @property
    def ticks(self) -> int:
        """Number of ticks."""
        return len(self.mode)


def what_is_logged(trace: Trace) -> Logged:
    """Which duties and states a replayed log has a value of in its first ten minutes; commands are preferred to applied duties."""
    seen: set[str] = set()
    names: set[str] = set()
    for chunk in trace:
        if chunk.start * trace.header.dt > LOOKED_AT:
            break
        names = {name for name in chunk.signals if name.startswith(("logged_", "applied_"))}
        seen |= {name for name in names - seen if np.isfinite(chunk.signals[name]).any()}
        if seen == names:
            break
    commanded = [side for side in SIDES if f"logged_{side}" in seen]
    applied = [side for side in SIDES if f"applied_{side}" in seen]
    states = sorted(
        name.removeprefix("logged_") for name in seen if name.startswith("logged_") and name.removeprefix("logged_") not in SIDES
    )
    known = tuple(name for name in states if name in trace.header.states)
    kind = COMMANDS if commanded else (APPLIED if applied else NO_DUTIES)
    return Logged(kind, tuple(commanded or applied), known, tuple(name for name in states if name not in known))


def beside(trace: Trace, logged: Logged, settle: float = SETTLE, case: int = 0) -> Iterator[Beside]:
    """Chunk by chunk, what was logged beside what was replayed."""
    settling = _Settling(trace.header, settle)
    prefix = "logged" if logged.duties == COMMANDS else "applied"
    for chunk in trace:
        one = chunk.signals
        ticks = chunk.ticks
        nothing = np.full((len(CORNERS), ticks), np.nan)
        recorded = [one[f"{prefix}_{side}"][:, :, 0] if side in logged.sides else nothing for side in SIDES]
        yield Beside(
            chunk.start, np.concatenate(recorded), np.concatenate([chunk.duty[side][:, :, case] for side in SIDES]),
            np.concatenate([chunk.layer[side][:, :, case] for side in SIDES]), chunk.mode[0, :, case], settling.settled(chunk),
            {name: _alike(one[f"logged_{name}"][:, :, 0], chunk.states[name][:, :, case]) for name in logged.states},
        )  # fmt: skip


def _alike(recorded: Array, replayed: Array) -> tuple[Array, Array]:
    """Both by corner, or both of the whole vehicle: active anywhere, where only one of them tells corners apart."""
    if len(recorded) == len(replayed):
        return recorded, replayed
    return recorded.max(axis=0, keepdims=True), replayed.max(axis=0, keepdims=True)


class _Settling:
    """Which ticks lie long enough after the start and after gaps, chunk by chunk."""

    def __init__(self, header: Header, settle: float) -> None:
        self._settle = round(settle / header.dt)
        self._gap = round(GAP / header.dt)
        self._last_bad = -1  # the start counts as the end of a gap
        self._last_good: dict[str, NDArray[np.int64]] = {}

    def settled(self, chunk: TraceChunk) -> Bools:
        bad = np.zeros(chunk.ticks, dtype=bool)
        tick = chunk.start + np.arange(chunk.ticks)
        for name in CONTROLLER_LAYOUT.names:
            if name in chunk.signals and not name.startswith("applied_"):
                bad |= self._long_blank(name, np.isfinite(chunk.signals[name][:, :, 0]), tick)
        last = np.maximum.accumulate(np.concatenate([[self._last_bad], np.where(bad, tick, -1)]))[1:]
        self._last_bad = int(last[-1]) if len(last) else self._last_bad
        return np.asarray(tick - last > self._settle)

    def _long_blank(self, name: str, good: Bools, tick: NDArray[np.int64]) -> Bools:
        """Ticks at which a row has had no value for longer than a gap; a row that never had one is not logged at all."""
        never = np.iinfo(np.int64).max // 2
        before = self._last_good.get(name, np.full(len(good), never))
        seen = np.where(before == never, -never, before)
        last = np.maximum.accumulate(np.column_stack([seen, np.where(good, tick, -never)]), axis=1)[:, 1:]
        self._last_good[name] = np.where(last[:, -1] == -never, never, last[:, -1]) if len(tick) else before
        return np.asarray(((tick - last > self._gap) & (last > -never)).any(axis=0))

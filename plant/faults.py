"""Faults put in on purpose: gaps, stuck values, spikes, drift, swapped or turned-round sensors, and loss of power at the valves."""

from __future__ import annotations

import math
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.signals import CORNERS, ROLES, SIGNALS, Layout
from dualduty.trace import Case

Array = NDArray[np.float64]

DROPOUT: Final = "dropout"
STUCK: Final = "stuck"
SPIKE: Final = "spike"
DRIFT: Final = "drift"
SWAPPED: Final = "swapped"
INVERTED: Final = "inverted"
POWER_LOSS: Final = "power_loss"
KINDS: Final = (DROPOUT, STUCK, SPIKE, DRIFT, SWAPPED, INVERTED, POWER_LOSS)
_MEANT: Final = {  # what a kind must and may have, of the fields that not all have
    DROPOUT: ((), ("corner",)), STUCK: ((), ("corner",)), SPIKE: (("size", "every"), ("corner",)), DRIFT: (("growth",), ("corner",)),
    SWAPPED: (("corner", "with_corner"), ()), INVERTED: ((), ("corner",)), POWER_LOSS: ((), ("corner",)),
}  # fmt: skip
_BY_KIND: Final = {"corner": "", "with_corner": "", "size": 0.0, "every": 0.0, "growth": 0.0}


@dataclass(frozen=True)
class Fault:
    """One fault: what goes wrong, where, from when and for how long.

    A spike lasts one sample: `size` [the channel's SI unit] is added about once in `every` seconds, at random. A drift grows
    by `growth` [unit/s] and is gone afterwards. `corner` is a corner or a role (`front`, `left`, ...), empty for all four.
    Two swapped corners are named by `corner` and `with_corner`. `section` and `seed` pick the cases, empty and -1 for all;
    never a candidate, since candidates are compared under the same faults. Power loss has no channel.
    """

    kind: str
    channel: str = ""
    corner: str = ""
    with_corner: str = ""
    start: float = 0.0
    duration: float = math.inf
    size: float = 0.0
    growth: float = 0.0
    every: float = 0.0
    section: str = ""
    seed: int = -1

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise self._bad(f"expected a kind of {', '.join(KINDS)}, came {self.kind!r}")
        self._check_place()
        self._check_fields()

    def _bad(self, problem: str) -> BadInput:
        return BadInput(self.title, problem)

    def _check_place(self) -> None:
        if self.kind == POWER_LOSS and self.channel:
            raise self._bad(f"power is lost at valves, not at a channel; expected none, came {self.channel!r}")
        if self.kind != POWER_LOSS and self.channel not in SIGNALS:
            raise self._bad(f"no channel {self.channel!r}; expected one of {', '.join(SIGNALS)}")
        if self.corner and self.corner not in ROLES:
            raise self._bad(f"corner: expected one of {', '.join(ROLES)}, came {self.corner!r}")
        if self.channel and SIGNALS[self.channel].corners == 1 and (self.corner or self.with_corner):
            raise self._bad(f"{self.channel} has no corners; expected no corner, came {self.corner or self.with_corner!r}")

    def _check_fields(self) -> None:
        if not self.start >= 0.0 or not self.duration > 0.0:
            raise self._bad(f"expected a start of 0 s or later and a duration above 0 s, came {self.start:g} s and {self.duration:g} s")
        must, may = _MEANT[self.kind]
        for name, rest in _BY_KIND.items():
            given = getattr(self, name) != rest
            if name in must and not given:
                raise self._bad(f"expected {name}, came nothing")
            if given and name not in must + may:
                raise self._bad(f"has no {name}, came {getattr(self, name)!r}")
        if not all(map(math.isfinite, (self.size, self.growth, self.every))) or self.every < 0.0:
            raise self._bad("expected finite numbers and a time between spikes above 0 s")
        if self.kind == SWAPPED and (self.corner == self.with_corner or not {self.corner, self.with_corner} <= set(CORNERS)):
            raise self._bad(f"expected two different corners, came {self.corner!r} and {self.with_corner!r}")

    @property
    def title(self) -> str:
        """How one-line errors name it."""
        return f"fault {self.kind} {self.channel}".rstrip()

    @property
    def words(self) -> str:
        """What it is, where and when, for people."""
        until = f" to {self.start + self.duration:g} s" if math.isfinite(self.duration) else " on"
        where = " ".join(word for word in (self.corner, f"with {self.with_corner}" if self.with_corner else "", self.section) if word)
        return f"{self.title}{' ' + where if where else ''}, from {self.start:g} s{until}"

    @property
    def corners(self) -> tuple[int, ...]:
        """Indices of the corners it touches; (0,) for a vehicle channel."""
        if self.channel and SIGNALS[self.channel].corners == 1:
            return (0,)
        return ROLES[self.corner] if self.corner else (0, 1, 2, 3)

    def touches(self, case: Case) -> bool:
        """Whether a case has it."""
        return self.section in {"", case.section} and self.seed in {-1, case.seed}

    def ticks(self, dt: float) -> tuple[float, float]:
        """First tick with it and first tick after it."""
        return _tick_at(self.start, dt), _tick_at(self.start + self.duration, dt)

    @property
    def number(self) -> int:
        """Tells its random numbers from those of other faults, wherever it stands in a list."""
        return zlib.crc32(f"{self.kind} {self.channel} {self.corner} {self.start:.9g}".encode())


def _tick_at(time: float, dt: float) -> float:
    return math.ceil(time / dt - 1e-9) if math.isfinite(time) else math.inf


def check_faults(faults: Sequence[Fault], cases: Sequence[Case]) -> None:
    """BadInput where a fault names a section or seed that none of the cases has: it would silently never come."""
    for fault in faults:
        if not any(fault.touches(case) for case in cases):
            there = ", ".join(sorted({f"{case.section} (seed {case.seed})" for case in cases}))
            raise BadInput(fault.title, f"no case has section {fault.section!r}, seed {fault.seed}; driven: {there}")


@dataclass(frozen=True)
class FaultTable:
    """Faults as the kernel takes them.

    entries : (entry, 6) array
        Kind (index into KINDS), row, other row, first tick, first tick after, growth per tick.
    chosen : (entry, case) array
        1 where the case has it.
    """

    entries: Array
    chosen: Array


def fault_table(faults: Sequence[Fault], cases: Sequence[Case], dt: float, layout: Layout) -> FaultTable:
    """The sensor faults of a layout's channels; the others are somebody else's."""
    entries, chosen = [], []
    for fault in faults:
        if fault.channel not in layout.rows:
            continue
        first = layout.rows[fault.channel].start
        other = first + CORNERS.index(fault.with_corner) if fault.with_corner else -1
        for corner in fault.corners:
            entries.append([KINDS.index(fault.kind), first + corner, other, *fault.ticks(dt), fault.growth * dt])
            chosen.append([float(fault.touches(case)) for case in cases])
    return FaultTable(np.array(entries, float).reshape(-1, 6), np.array(chosen, float).reshape(-1, len(cases)))


@dataclass(frozen=True)
class PowerLosses:
    """When which valves have no power.

    first, after : (entry,) arrays
        First tick without, first tick with power again.
    where : (entry, 8, case) array of bool
        Rows four compression, four rebound.
    """

    first: Array
    after: Array
    where: NDArray[np.bool_]


def power_losses(faults: Sequence[Fault], cases: Sequence[Case], dt: float) -> PowerLosses:
    """The power losses among the faults, by controller ticks of `dt` seconds."""
    lost = [fault for fault in faults if fault.kind == POWER_LOSS]
    where = np.zeros((len(lost), 8, len(cases)), bool)
    for entry, fault in enumerate(lost):
        rows = [*fault.corners, *(4 + corner for corner in fault.corners)]
        where[entry, rows] = [fault.touches(case) for case in cases]
    times = np.array([fault.ticks(dt) for fault in lost], float).reshape(-1, 2)
    return PowerLosses(times[:, 0], times[:, 1], where)


def without_power(losses: PowerLosses, tick: int, latched: Array) -> Array:
    """Duties as they reach the valves at a tick: NaN where there is no power.

    latched : (8, 1, case) array
        Duties latched for this tick, four compression, four rebound; not changed. [1]
    """
    if not losses.first.size:
        return latched
    now = np.asarray((losses.first <= tick) & (tick < losses.after))
    lost = np.asarray(losses.where[now].any(axis=0))
    return np.where(lost[:, None, :], np.nan, latched) if now.any() else latched

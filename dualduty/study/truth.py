"""What was really going on in a simulated drive, state by state, read off the plant's truth."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import CORNER_LABELS
from dualduty.study.drives import Drive
from dualduty.study.stretches import lasting, stretches
from dualduty.units import STANDARD_GRAVITY
from replay.intervals import Interval
from replay.matching import merged

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]

LEAST_HOP: Final = 0.03  # s; a wheel off the ground for less counts neither way
LEAST_FLIGHT: Final = 0.08  # s in the air, less is no landing that matters; common practice
LANDING: Final = 0.25  # s after touchdown in which a landing may be reported
TURNS: Final = 0.25 * STANDARD_GRAVITY  # lateral acceleration of a turn; between this and the lower one nobody is sure
BENDS: Final = 0.15 * STANDARD_GRAVITY
TURN: Final = 0.3  # s; a shorter swing is none
PEDAL: Final = 0.08  # share of full brake
SLOWED: Final = 0.15 * STANDARD_GRAVITY  # slowed by something else than the pedal: nobody is sure
PAUSE: Final = 0.5  # s; a foot that leaves the pedal for less has not stopped braking


@dataclass(frozen=True)
class Happening:
    """One interval [s] in which a state was true; `size` is the time by which it is classed. [s]"""

    start: float
    end: float
    size: float

    @property
    def interval(self) -> Interval:
        """Start and end."""
        return (self.start, self.end)


@dataclass(frozen=True)
class TruthLine:
    """One state at one corner (-1: the whole vehicle): what must be found, and where nobody is sure."""

    state: str
    corner: int
    sure: tuple[Happening, ...]
    unsure: tuple[Interval, ...]

    @property
    def where(self) -> str:
        """Label of the corner, "" for the whole vehicle."""
        return CORNER_LABELS[self.corner] if self.corner >= 0 else ""


def truth_lines(drive: Drive) -> Iterator[TruthLine]:
    """Every state that both the strategy gives and the truth knows."""
    off = drive.truth["wheel_load"] <= 0.0
    for state, find in _FINDERS.items():
        if state in drive.states:
            yield from find(drive, state, off)


def flights(off: Gate, dt: float, least: float = LEAST_HOP) -> list[Interval]:
    """Intervals in which all four wheels are off the ground; (4, tick) gate."""
    return lasting(stretches(np.asarray(off.all(axis=0)), dt), least)


def partly_off(off: Gate, dt: float, wheels: int = 2) -> list[Interval]:
    """Intervals in which at least so many wheels are."""
    return stretches(np.asarray(off.sum(axis=0) >= wheels), dt)


def _airborne(drive: Drive, state: str, off: Gate) -> Iterator[TruthLine]:
    yield TruthLine(state, -1, _as_long(flights(off, drive.dt)), tuple(partly_off(off, drive.dt)))


def _wheel_off(drive: Drive, state: str, off: Gate) -> Iterator[TruthLine]:
    for corner in range(4):
        hops = stretches(off[corner], drive.dt)
        sure = lasting(hops, LEAST_HOP)
        yield TruthLine(state, corner, _as_long(sure), tuple(hop for hop in hops if hop not in sure))


def _landing(drive: Drive, state: str, off: Gate) -> Iterator[TruthLine]:
    came_down = flights(off, drive.dt, LEAST_FLIGHT)
    sure = tuple(Happening(end, end + LANDING, end - start) for start, end in came_down if end < drive.length - drive.dt)
    axle = lasting(partly_off(off, drive.dt), LEAST_FLIGHT)
    yield TruthLine(state, -1, sure, tuple(merged([(start, end + LANDING) for start, end in axle])))


def _cornering(drive: Drive, state: str, _: Gate) -> Iterator[TruthLine]:
    lateral = np.abs(_smoothed(_filled(drive.signal("yaw_rate")[0]) * drive.truth["speed"][0], drive.dt))
    sure = lasting(stretches(lateral > TURNS, drive.dt), TURN)
    yield TruthLine(state, -1, _as_long(sure), tuple(stretches(lateral > BENDS, drive.dt)))


def _braking(drive: Drive, state: str, _: Gate) -> Iterator[TruthLine]:
    pedal = _bridged(_filled(drive.signal("brake")[0]) > PEDAL, drive.dt)
    slowed = -np.gradient(_smoothed(drive.truth["speed"][0], drive.dt), drive.dt) > SLOWED
    yield TruthLine(state, -1, _as_long(lasting(stretches(pedal, drive.dt), 0.05)), tuple(stretches(slowed | pedal, drive.dt)))


_FINDERS: Final[dict[str, Callable[[Drive, str, Gate], Iterator[TruthLine]]]] = {
    "airborne_likely": _airborne, "airborne": _airborne, "wheel_off": _wheel_off, "landing": _landing, "cornering": _cornering,
    "braking": _braking,
}  # fmt: skip


def _as_long(intervals: list[Interval]) -> tuple[Happening, ...]:
    return tuple(Happening(start, end, end - start) for start, end in intervals)


def _filled(values: Array) -> Array:
    """Values with gaps bridged by straight lines."""
    ticks = np.arange(len(values))
    good = np.isfinite(values)
    return np.interp(ticks, ticks[good], values[good]) if good.any() else np.zeros(len(values))


def _smoothed(values: Array, dt: float) -> Array:
    """A centred mean over 0.2 s, ends held: who knows it afterwards sees both ways."""
    reach = round(0.1 / dt)
    held = np.concatenate([np.full(reach, values[0]), values, np.full(reach, values[-1])])
    return np.convolve(held, np.full(2 * reach + 1, 1.0 / (2 * reach + 1)), mode="valid")


def _bridged(gate: Gate, dt: float) -> Gate:
    """The gate with short pauses filled."""
    joined = gate.copy()
    for start, end in stretches(~gate, dt):
        first, last = round(start / dt), round(end / dt)
        if first > 0 and last < len(gate) and end - start <= PAUSE:
            joined[first:last] = True
    return joined

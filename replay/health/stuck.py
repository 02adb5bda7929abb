"""Stuck channels: the same value over and over while the vehicle moves; a vehicle at rest is no fault."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import F8, IN1, OUT1, OUT2, kernel
from dualduty.units import unit
from replay.health.channels import Channels, Row
from replay.health.finding import SPOILS, SUREST, Finding
from replay.health.holes import MOST, Hole, hole_finding, labels_of, together
from replay.health.motion import speed
from replay.health.slow_copy import RATE, SlowMotion

if TYPE_CHECKING:
    from replay.log import LogPart

Array = NDArray[np.float64]
SHORTEST: Final = 0.25  # s; what stands still for less does no harm that matters
LOCKED: Final = 1.5  # s; a wheel at rest for less may be braked
MOVING: Final = 1.0  # m/s
STIRS: Final = 0.1  # of its usual range: a channel that moves so much is no longer at rest
STEPS: Final = 3.0  # of its own least step that other corners must move
STRAIGHT_ON: Final = 5.0  # s; a steering wheel may well be held still for less
TURNING: Final = 0.3  # rad/s of yaw rate from side to side, in which no steering wheel stands still
_SAMPLES: Final = 20  # fewer equal values say nothing
_UNLIKELY: Final = 7.0  # log of the odds against chance from which it is told: 1 in 1,100 logs


@kernel(IN1, IN1, F8, OUT1, OUT2, OUT1)
def _flat_runs(time, values, least, state, runs, counts):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202 - a kernel
    """Runs of one value that last `least` or longer; `state` is value, start, last time and length of the run on the way.

    `counts` is runs found, changes and values so far, and the least change; `runs` gets start, end, value and length of each.
    """
    for sample in range(time.shape[0]):
        value = values[sample]
        if value != value:  # noqa: PLR0124 - NaN: no value
            continue
        counts[2] += 1.0
        if value == state[0]:
            state[2] = time[sample]
            state[3] += 1.0
            continue
        if state[2] - state[1] >= least and counts[0] < runs.shape[0]:
            at = int(counts[0])
            runs[at, 0], runs[at, 1], runs[at, 2], runs[at, 3] = state[1], state[2], state[0], state[3]
            counts[0] += 1.0
        counts[1] += 1.0
        if counts[1] > 1.0:
            counts[3] = min(counts[3], abs(value - state[0]))
        state[0], state[1], state[2], state[3] = value, time[sample], time[sample], 1.0


@dataclass
class _Watched:
    row: Row
    state: Array = field(default_factory=lambda: np.array([np.nan, np.nan, np.nan, 0.0]))
    counts: Array = field(default_factory=lambda: np.array([0.0, 0.0, 0.0, np.inf]))
    runs: Array = field(default_factory=lambda: np.empty((MOST, 4)))


class Stuck:
    """Looks for flat runs that are no rest."""

    def __init__(self, channels: Channels) -> None:
        self._watched = {row.index: _Watched(row) for row in channels.rows.values() if not row.rests}

    def see(self, part: LogPart) -> None:
        """Take in the next part."""
        time = np.ascontiguousarray(part.time)
        for values, index in zip(part.values, part.rows.tolist(), strict=True):
            if index in self._watched:
                found = self._watched[index]
                _flat_runs(time, np.ascontiguousarray(values), SHORTEST, found.state, found.runs, found.counts)

    def end(self, motion: SlowMotion) -> list[Finding]:
        """What was found."""
        stirred = _Stirred(motion)
        dead = self._nothing_changes()
        if dead:
            return dead
        holes: list[tuple[Hole, float, float]] = []
        for watched in self._watched.values():
            if watched.row.signal.name.startswith("logged_") or watched.counts[2] < 2:  # noqa: PLR2004 - one value can't be stuck
                continue
            holes += self._of(watched, stirred)
        sure = {id(hole): odds for hole, odds, _ in holes}
        value = {id(hole): held for hole, _, held in holes}
        findings = []
        for group in together([hole for hole, _, _ in holes]):
            held = _said(group[0].row, value[id(group[0])]) if len(group) == 1 else "the same values"
            said = f"stands at {held} while the vehicle moves,"
            remedy = "look at the sensor and its cable; cut the stretch out"
            findings.append(hole_finding("stuck", said, group, max(sure[id(hole)] for hole in group), remedy))
        return findings

    def _nothing_changes(self) -> list[Finding]:
        """One finding where no channel that matters has a second value: a logger that stands, or a vehicle that never woke up."""
        seen = [watched for watched in self._watched.values() if watched.row.essential and watched.counts[2] >= _SAMPLES]
        if not seen or any(watched.counts[1] > 1.0 for watched in seen):
            return []
        label = labels_of([watched.row for watched in seen])
        text = f"{label}: never changes in the whole log; no sensor that lives is so still"
        effect = "nothing that this log is driven for can be told from it"
        brief, remedy = "nothing in it ever changes", "look at the logger and its supply"
        rows = tuple(watched.row.index for watched in seen)
        return [Finding("stuck", label, np.nan, np.nan, SUREST, SPOILS, text, effect, brief, remedy, rows=rows)]

    def _step(self, watched: _Watched) -> float:
        """Least step of a channel; of one that never changes, the usual one of its other corners, infinite where none does."""
        if np.isfinite(watched.counts[3]):
            return float(watched.counts[3])
        name, index = watched.row.signal.name, watched.row.index
        corners = [other for other in self._watched.values() if other.row.signal.name == name and other.row.index != index]
        steps = [other.counts[3] for other in corners if np.isfinite(other.counts[3])]
        return float(np.median(steps)) if steps else np.inf

    def _of(self, watched: _Watched, stirred: _Stirred) -> list[tuple[Hole, float, float]]:
        """Stuck stretches of one channel with how sure, and the value held."""
        last = np.array([[watched.state[1], watched.state[2], watched.state[0], watched.state[3]]])
        runs = np.concatenate([watched.runs[: int(watched.counts[0])], last])
        runs = runs[runs[:, 1] - runs[:, 0] >= SHORTEST]
        usual = runs[:, 3].sum()  # flat runs say nothing of how often it changes
        step = self._step(watched)
        changes = watched.counts[1] / max(watched.counts[2] - usual, 1.0)
        found = []
        for start, end, value, length in runs.tolist():
            odds = length * min(changes, 1.0) - np.log(watched.counts[2])
            wheel = watched.row.signal.name == "wheel_speed" and value <= 0.0
            parked = wheel and not np.isfinite(step)  # no wheel ever turns
            if odds < _UNLIKELY or parked or (wheel and end - start < LOCKED) or not stirred.within(watched.row, start, end, step):
                continue
            found.append((Hole(watched.row, start, end), min(1.0 - float(np.exp(-odds)), SUREST), value))
        return found


class _Stirred:
    """Whether the vehicle moves: by its wheels, else by what other channels do."""

    def __init__(self, motion: SlowMotion) -> None:
        self._motion = motion
        self._speed = speed(motion)
        self._usual: dict[int, float] = {}

    def within(self, row: Row, start: float, end: float, step: float) -> bool:
        """Whether it moves in most of a stretch, leaving out what `row` itself says, and by more than the row's least `step`."""
        if row.signal.name == "steer_angle":
            return end - start > STRAIGHT_ON and self._turns(start, end)
        cut = slice(int(np.ceil(start * RATE)), max(int(end * RATE), int(np.ceil(start * RATE)) + 1))
        moving = self._speed[cut]
        if row.signal.corners > 1 and np.isfinite(step) and not self._siblings_move(row, cut, step):
            return False
        if np.isfinite(moving).any() and row.signal.name != "wheel_speed":
            return bool(np.nanmean(moving > MOVING) > 0.5)  # noqa: PLR2004 - half
        if not np.isfinite(step) and row.signal.corners > 1 and row.signal.name != "wheel_speed":
            return False  # no corner ever moves, and no wheel says that the vehicle does
        others = [other for other in self._motion.place if other != row.index]
        stirred = [self._stirs(other, cut) for other in others if self._motion.channels.rows[other].essential]
        return bool(stirred) and float(np.mean(stirred)) > 0.3  # noqa: PLR2004 - a third of the channels, our choice

    def _siblings_move(self, row: Row, cut: slice, step: float) -> bool:
        """Whether other corners move by several steps of this one: a coarse channel may well stand still on smooth ground."""
        others = [self._motion.row(other.index)[cut] for other in self._motion.channels.of(row.signal.name) if other.index != row.index]
        spans = [float(np.ptp(values[np.isfinite(values)])) for values in others if np.isfinite(values).any()]
        return not spans or float(np.median(spans)) > STEPS * step

    def _turns(self, start: float, end: float) -> bool:
        """Whether the yaw rate goes from one side to the other meanwhile."""
        yaw = self._motion.one("yaw_rate")[max(int(start * RATE), 0) : int(end * RATE) + 1]
        return bool(np.isfinite(yaw).any()) and float(np.ptp(yaw[np.isfinite(yaw)])) > TURNING

    def _stirs(self, row: int, cut: slice) -> bool:
        values = self._motion.row(row)
        if row not in self._usual:
            known = values[np.isfinite(values)]
            self._usual[row] = float(np.subtract(*np.quantile(known, [0.95, 0.05]))) if len(known) else np.inf
        inside = values[cut][np.isfinite(values[cut])]
        return len(inside) > 0 and self._usual[row] > 0.0 and float(np.ptp(inside)) > STIRS * self._usual[row]


def _said(row: Row, value: float) -> str:
    """A value in the unit in which people say it."""
    return f"{value / unit(row.signal.said).factor:.4g} {row.signal.said}".removesuffix(" 1")

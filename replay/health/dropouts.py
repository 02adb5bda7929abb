"""Dropouts: a channel without a value while its clock runs on; several at once are one finding."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from replay.health.channels import Channels, Row
from replay.health.effects import untrusted
from replay.health.finding import IMPAIRS, NOTE, SPOILS, SUREST, Finding
from replay.health.holes import HELD, MOST, Hole, hole_finding, labels_of, together
from replay.health.slow_copy import SlowMotion

if TYPE_CHECKING:
    from replay.log import LogPart

Array = NDArray[np.float64]
_RHYTHM_FROM: Final = 20  # values that say how often a channel comes
_RHYTHMS: Final = 2.5  # so many of its own steps without a value are a hole
_SINGLE: Final = 1.6  # of the middle step: 4 and 6 ms in turn are single steps, two together are not
_HALF: Final = 0.5
_MISSED: Final = 2e-4  # share of values missing from which it is told: one a second and 200 Hz is 0.5 %
_MANY: Final = (0.02, 0.2)  # share missing that impairs, that spoils


@dataclass
class _Watched:
    """One channel on its way through the log. [s]"""

    row: Row
    rhythm: float = 0.0
    first: float = np.nan  # first value
    last: float = np.nan  # latest value
    blank_from: float = np.nan  # first blank sample since
    blanks: int = 0
    values: int = 0
    stream: int = 0
    lost: float = 0.0  # time in holes
    hidden: int = 0
    holes: list[Hole] = field(default_factory=list)


class Dropouts:
    """Looks for stretches without a value, channel by channel."""

    def __init__(self, channels: Channels) -> None:
        self._watched = {row.index: _Watched(row) for row in channels.rows.values()}
        self._step: dict[int, float] = {}
        self._last: dict[int, float] = {}
        self._stood: dict[int, float] = {}
        self._latest = 0.0

    def see(self, part: LogPart) -> None:
        """Take in the next part."""
        if not len(part.time):
            return
        if part.stream not in self._step and len(part.time) > 1:
            self._step[part.stream] = usual_step(part.time)
        self._latest = max(self._latest, float(part.time[-1]))
        self._stand(part)
        for values, index in zip(part.values, part.rows.tolist(), strict=True):
            if index in self._watched:
                self._watched[index].stream = part.stream
                self._row(self._watched[index], part, values)

    def end(self, motion: SlowMotion) -> list[Finding]:
        """What was found."""
        long: list[Hole] = []
        findings: list[Finding] = []
        missed: list[tuple[Row, float, str]] = []
        for watched in self._watched.values():
            if not watched.values:
                findings.append(_empty(watched.row))
                continue
            if watched.blanks and self._latest - watched.last > max(_RHYTHMS * watched.rhythm, HELD):
                self._hole(watched, Hole(watched.row, watched.blank_from, self._latest))
            long += [hole for hole in watched.holes if hole.length > max(HELD, watched.row.bridge)]
            missed += self._missed(watched)
        remedy = "look at plug and cable of this channel; cut the stretch out"
        findings += [hole_finding("dropout", "no value", holes, 0.999, remedy) for holes in together(long)]
        return findings + _missing(missed)

    def _stand(self, part: LogPart) -> None:
        """Add up the time in which a clock stood."""
        steps = np.diff(part.time, prepend=self._last.get(part.stream, part.time[0]))
        self._last[part.stream] = float(part.time[-1])
        usual = self._step.get(part.stream, 0.0)
        if usual and steps.max() > _RHYTHMS * usual:
            self._stood[part.stream] = self._stood.get(part.stream, 0.0) + float((steps - usual)[steps > _RHYTHMS * usual].sum())

    def _row(self, watched: _Watched, part: LogPart, values: Array) -> None:
        if not watched.blanks and not np.isnan(values.min()):  # min hands a NaN on, and is quicker than looking at each
            watched.first = watched.first if watched.values else float(part.time[0])
            watched.rhythm = watched.rhythm or self._step.get(part.stream, 0.0)
            watched.last, watched.values = float(part.time[-1]), watched.values + len(values)
            return
        at = np.flatnonzero(~np.isnan(values))
        if len(at):
            self._between(watched, part, at)
            watched.values += len(at)
        self._tail(watched, part, at)

    def _between(self, watched: _Watched, part: LogPart, at: NDArray[np.intp]) -> None:
        """Holes before and between the values of a part."""
        times = part.time[at]
        if not watched.rhythm and len(at) > _RHYTHM_FROM:
            watched.rhythm = usual_step(times)
        if not watched.values:
            watched.first = watched.last = float(times[0])
        lengths = np.diff(times, prepend=watched.last)
        least = max(_RHYTHMS * (watched.rhythm or self._step.get(part.stream, 0.0)), watched.row.bridge)
        for place in np.flatnonzero(lengths > least).tolist():
            before = int(at[place - 1]) if place else -1
            blanks = int(at[place]) - before - 1 + (watched.blanks if not place else 0)
            start = watched.blank_from if not place and watched.blanks else float(part.time[min(before + 1, len(part.time) - 1)])
            self._close(watched, blanks * self._step.get(part.stream, 0.0), start, float(times[place]), float(lengths[place]))

    def _close(self, watched: _Watched, blank: float, start: float, end: float, length: float) -> None:
        """A hole, if it isn't the clock that stood."""
        if blank < _HALF * length:
            return
        self._hole(watched, Hole(watched.row, max(start, end - length + watched.rhythm) if watched.rhythm < length else start, end))

    def _hole(self, watched: _Watched, hole: Hole) -> None:
        watched.lost += hole.length if hole.length > HELD else 0.0
        if len(watched.holes) < MOST:
            watched.holes.append(hole)
        else:
            watched.hidden += 1

    def _tail(self, watched: _Watched, part: LogPart, at: NDArray[np.intp]) -> None:
        after = int(at[-1]) + 1 if len(at) else 0
        if len(at):
            watched.last, watched.blanks = float(part.time[at[-1]]), 0
        if after < len(part.time):
            watched.blank_from = watched.blank_from if watched.blanks else float(part.time[after])
            watched.blanks += len(part.time) - after

    def _missed(self, watched: _Watched) -> list[tuple[Row, float, str]]:
        """A channel that misses values one by one: the share, and how bad that is."""
        whole = self._last[watched.stream] - watched.first - watched.lost - self._stood.get(watched.stream, 0.0)
        expected = whole / watched.rhythm if watched.rhythm else 0.0
        share = 1.0 - watched.values / expected if expected > 1.0 else 0.0
        if share < _MISSED and not watched.hidden:
            return []
        return [(watched.row, share, SPOILS if share > _MANY[1] else IMPAIRS if share > _MANY[0] else NOTE)]


def usual_step(times: Array) -> float:
    """Mean step without gaps: 4 and 6 ms in turn are 5 ms. [s]"""
    steps = np.diff(times[:1000])
    return float(steps[steps <= _SINGLE * np.median(steps)].mean())


def _missing(missed: list[tuple[Row, float, str]]) -> list[Finding]:
    """Single values missing, in one line for the channels that it harms alike."""
    findings = []
    for severity in (SPOILS, IMPAIRS, NOTE):
        rows = [row for row, _, how in missed if how == severity]
        if not rows:
            continue
        share = 100.0 * max(share for row, share, how in missed if how == severity)
        label = labels_of(rows)
        text = f"{label}: up to {share:.2g} % of the values are missing one by one"
        effect = "the last value stands in" if severity == NOTE else untrusted(rows[0].signal.name)
        remedy = "none needed" if severity == NOTE else "look at the load of the logger's bus, at plug and cable"
        indices = tuple(row.index for row in rows)
        findings.append(
            Finding("missing values", label, np.nan, np.nan, SUREST, severity, text, effect, f"{share:.2g} % missing", remedy, rows=indices)
        )
    return findings


def _empty(row: Row) -> Finding:
    """A channel that has a column and nothing in it."""
    severity = SPOILS if row.essential else NOTE
    text = f"{row.label}: column {row.column!r} has no value in the whole log"
    remedy = "look at its plug; check that the map names the right column"
    rows = (row.index,)
    return Finding(
        "empty", row.label, np.nan, np.nan, SUREST, severity, text, untrusted(row.signal.name), f"no {row.label}", remedy, rows=rows
    )

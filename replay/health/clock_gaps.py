"""Gaps in a clock, and recording pauses: all clocks stand for more than a second, with the vehicle at rest or not."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from replay.health.channels import Channels
from replay.health.finding import IMPAIRS, NOTE, SPOILS, Finding, seconds
from replay.health.holes import HELD, MOST, SPOILING
from replay.health.motion import speed_around
from replay.health.slow_copy import SlowMotion

if TYPE_CHECKING:
    from replay.log import LogPart

Array = NDArray[np.float64]
Span = tuple[float, float]
GAP_STEPS: Final = 2.5  # a step longer than this many usual ones is a gap: two samples lost, jitter is not
PAUSE: Final = 1.0  # s
STANDING: Final = 0.5  # m/s
_TYPICAL_FROM: Final = 1000


class ClockGaps:
    """Looks at the steps of each clock."""

    def __init__(self, channels: Channels) -> None:
        self._channels = channels
        self._stream: dict[int, int] = {}  # clock -> the stream it is read from
        self._last: dict[int, float] = {}
        self._usual: dict[int, float] = {}
        self._gaps: dict[int, list[Span]] = {}
        self._hidden: dict[int, int] = {}

    def see(self, part: LogPart) -> None:
        """Take in the next part."""
        clock = self._channels.clocks.get(part.stream, part.stream)
        if not len(part.time) or self._stream.setdefault(clock, part.stream) != part.stream:
            return
        time = np.concatenate([[self._last[clock]], part.time]) if clock in self._last else part.time
        self._last[clock] = float(part.time[-1])
        gaps = self._gaps.setdefault(clock, [])
        steps = np.diff(time)
        if not len(steps):
            return
        usual = self._usual.setdefault(clock, float(np.median(steps[:_TYPICAL_FROM])))
        for at in np.flatnonzero(steps > GAP_STEPS * usual).tolist():
            if len(gaps) < MOST:
                gaps.append((float(time[at]), float(time[at + 1])))
            else:
                self._hidden[clock] = self._hidden.get(clock, 0) + 1

    def end(self, motion: SlowMotion) -> list[Finding]:
        """What was found."""
        findings = self._too_slow()
        told: list[Span] = []
        for clock, gaps in self._gaps.items():
            long = [gap for gap in gaps if gap[1] - gap[0] > HELD]
            pauses = [gap for gap in long if self._is_pause(gap)]
            findings += [self._gap(clock, gap) for gap in long if gap not in pauses]
            fresh = [gap for gap in pauses if not any(_overlap(gap, other) for other in told)]
            findings += [_pause(gap, motion) for gap in fresh]
            told += fresh
            short = [gap for gap in gaps if gap[1] - gap[0] <= HELD]
            findings += self._short(clock, short)
        return findings

    def _too_slow(self) -> list[Finding]:
        """Where even the quickest clock under a channel that matters is slower than any event: mostly a wrong unit of time."""
        rows = [row.index for row in self._channels.rows.values() if row.essential]
        steps = [self._usual[clock] for clock in {self._channels.clock_of(row) for row in rows} if clock in self._usual]
        if not steps or min(steps) <= SPOILING:
            return []
        text = f"recording: samples {seconds(min(steps))} apart; the events looked for last {SPOILING:g} s and more"
        brief, remedy = f"samples {seconds(min(steps))} apart", "look at the unit under [time] of the map, or log faster"
        return [
            Finding("slow clock", "recording", np.nan, np.nan, 0.999, SPOILS, text, "no state can be told, and no law acts", brief, remedy)
        ]

    def _is_pause(self, gap: Span) -> bool:
        """Whether every clock stands in this gap."""
        others = [gaps for clock, gaps in self._gaps.items() if gap not in gaps]
        half = 0.5 * (gap[1] - gap[0])
        return gap[1] - gap[0] > PAUSE and all(any(_overlap(gap, other) > half for other in gaps) for gaps in others)

    def _rows(self, clock: int) -> tuple[int, ...]:
        """Rows that hang on a clock, as far as they are told by their streams."""
        return () if len(self._gaps) == 1 else (-1 - clock,)

    def _gap(self, clock: int, gap: Span) -> Finding:
        length = gap[1] - gap[0]
        label = self._channels.clock_label(clock)
        severity = SPOILS if length > SPOILING else IMPAIRS
        text = f"{label}: no sample for {seconds(length)} from {gap[0]:.2f} s (usual step {seconds(self._usual[clock])})"
        effect = "nothing is known meanwhile: every state and score over this stretch"
        remedy = "look at the logger's storage and supply; cut the stretch out"
        return Finding("gap", label, *gap, 0.999, severity, text, effect, f"{seconds(length)} gap", remedy, rows=self._rows(clock))

    def _short(self, clock: int, gaps: list[Span]) -> list[Finding]:
        count = len(gaps) + self._hidden.get(clock, 0)
        if not count:
            return []
        lost = sum(end - start for start, end in gaps)
        label = self._channels.clock_label(clock)
        severity = IMPAIRS if lost > 0.02 * max(self._last[clock], 1e-9) else NOTE
        longest = seconds(max(end - start for start, end in gaps))
        text = f"{label}: {count} short gap{'s' if count > 1 else ''}, the longest {longest}, the first at {gaps[0][0]:.2f} s"
        found = ("the last value stands in", f"{count} short gaps")
        return [Finding("short gaps", label, np.nan, np.nan, 0.999, severity, text, *found, rows=self._rows(clock))]


def _pause(gap: Span, motion: SlowMotion) -> Finding:
    """A pause of the whole recording; whether the vehicle stood decides how bad it is."""
    before, after = speed_around(motion, gap[0], -PAUSE), speed_around(motion, gap[1], PAUSE)
    length = gap[1] - gap[0]
    opening = f"recording: all clocks stand for {seconds(length)} from {gap[0]:.2f} s"
    brief = f"{seconds(length)} pause"
    if max(before, after) < STANDING:
        effect = "none: states start afresh as they would at any standstill"
        text = f"{opening}, the vehicle standing before and after: a recording pause"
        return Finding("pause", "recording", *gap, 0.99, NOTE, text, effect, brief)
    if np.isnan(before) or np.isnan(after):
        text = f"{opening}; without wheel speeds it can't be told whether the vehicle stood"
        return Finding("pause", "recording", *gap, 0.5, IMPAIRS, text, "states that reach across it", brief, "read it as two logs")
    text = f"{opening} while the vehicle moves ({3.6 * before:.0f} km/h before, {3.6 * after:.0f} km/h after)"
    effect = "states, counts and everything that remembers, from before it until some seconds after it"
    return Finding("pause", "recording", *gap, 0.99, SPOILS, text, effect, brief, "cut the log in two here")


def _overlap(one: Span, other: Span) -> float:
    return max(0.0, min(one[1], other[1]) - max(one[0], other[0]))

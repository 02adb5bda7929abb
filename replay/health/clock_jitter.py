"""Jitter: how unevenly a clock's stamps follow each other, gaps left out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from replay.health.channels import Channels
from replay.health.clock_gaps import GAP_STEPS
from replay.health.finding import IMPAIRS, NOTE, Finding
from replay.health.slow_copy import SlowMotion

if TYPE_CHECKING:
    from replay.log import LogPart

TOLD: Final = 0.25  # r.m.s. of the steps as a share of the usual step; 200 Hz taken from ticks of 2 ms, as 4 and 6 ms, has 0.2
BAD: Final = 0.4
_LEAST: Final = 500  # steps


class ClockJitter:
    """Sums up the steps of each clock."""

    def __init__(self, channels: Channels) -> None:
        self._channels = channels
        self._stream: dict[int, int] = {}
        self._usual: dict[int, float] = {}
        self._sums: dict[int, list[float]] = {}  # steps, their sum, and sum of squares, counted from the usual one
        self._worst: dict[int, float] = {}

    def see(self, part: LogPart) -> None:
        """Take in the next part."""
        clock = self._channels.clocks.get(part.stream, part.stream)
        if len(part.time) < 2 or self._stream.setdefault(clock, part.stream) != part.stream:  # noqa: PLR2004 - no step
            return
        steps = np.diff(part.time)
        usual = self._usual.setdefault(clock, float(np.median(steps[:1000])))
        off = steps - usual
        if off.max() > (GAP_STEPS - 1.0) * usual:
            off = off[off <= (GAP_STEPS - 1.0) * usual]
        if not len(off):
            return
        sums = self._sums.setdefault(clock, [0.0, 0.0, 0.0])
        self._sums[clock] = [sums[0] + len(off), sums[1] + float(off.sum()), sums[2] + float(np.dot(off, off))]
        self._worst[clock] = max(self._worst.get(clock, 0.0), float(off.max()), -float(off.min()))

    def end(self, motion: SlowMotion) -> list[Finding]:
        """What was found."""
        findings = []
        for clock, (count, total, squares) in self._sums.items():
            spread = max(squares / count - (total / count) ** 2, 0.0) ** 0.5
            share = spread / self._usual[clock]
            if count < _LEAST or share < TOLD:
                continue
            label = self._channels.clock_label(clock)
            text = (
                f"{label}: steps scatter by {1e3 * spread:.2g} ms r.m.s. round {1e3 * (self._usual[clock] + total / count):.3g} ms, "
                f"{1e3 * self._worst[clock]:.2g} ms at worst"
            )
            effect = f"rates of change taken from stamps are off by up to {100 * share:.0f} %; edges by {1e3 * spread:.2g} ms"
            found = (effect, "uneven stamps", "stamp where it is sampled, not where it is written")
            findings.append(Finding("jitter", label, np.nan, np.nan, 0.99, IMPAIRS if share > BAD else NOTE, text, *found))
        return findings

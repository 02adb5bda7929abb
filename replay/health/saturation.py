"""Saturation: a channel that stops at the same greatest or least value again and again, or stays on it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import F8, IN1, OUT1, kernel
from dualduty.units import unit
from replay.health.channels import Channels, Row
from replay.health.effects import carries
from replay.health.finding import IMPAIRS, NOTE, Finding
from replay.health.slow_copy import SlowMotion

if TYPE_CHECKING:
    from replay.log import LogPart

Array = NDArray[np.float64]
LEAST: Final = 8  # samples at the limit
TIMES: Final = 4.0  # more than at either of the two values next to it: a crest that is only coarse thins out towards its top
KEPT: Final = 32  # times kept


@kernel(IN1, IN1, F8, OUT1, OUT1, OUT1)
def _top(time, values, sign, levels, counts, times):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202, C901 - a kernel
    """The three greatest values so far and how often each came; `counts[3]` is runs at the greatest, `counts[4]` whether on it now."""
    for sample in range(time.shape[0]):
        value = sign * values[sample]
        if not value >= levels[2]:
            counts[4] = counts[4] if value != value else 0.0  # noqa: PLR0124 - NaN: no value
            continue
        if value == levels[0]:
            counts[0] += 1.0
            if counts[4] == 0.0:
                if counts[3] < times.shape[0]:
                    times[int(counts[3])] = time[sample]
                counts[3] += 1.0
                counts[4] = 1.0
            continue
        counts[4] = 0.0
        if value > levels[0]:
            levels[2], levels[1], levels[0] = levels[1], levels[0], value
            counts[2], counts[1], counts[0] = counts[1], counts[0], 1.0
            counts[3], counts[4], times[0] = 1.0, 1.0, time[sample]
        elif value == levels[1]:
            counts[1] += 1.0
        elif value > levels[1]:
            levels[2], levels[1] = levels[1], value
            counts[2], counts[1] = counts[1], 1.0
        elif value == levels[2]:
            counts[2] += 1.0
        else:
            levels[2] = value
            counts[2] = 1.0


@dataclass
class _Watched:
    row: Row
    sign: float
    levels: Array = field(default_factory=lambda: np.full(3, -np.inf))
    counts: Array = field(default_factory=lambda: np.zeros(5))
    times: Array = field(default_factory=lambda: np.zeros(KEPT))


class Saturation:
    """Looks at the ends of each channel's range."""

    def __init__(self, channels: Channels) -> None:
        self._watched = [
            _Watched(row, sign) for row in channels.rows.values() for sign in (1.0, -1.0)
            if not row.rests and not row.signal.name.startswith("logged_") and not (row.signal.name == "wheel_speed" and sign < 0.0)
        ]  # fmt: skip
        self._seen: dict[int, int] = {}

    def see(self, part: LogPart) -> None:
        """Take in the next part."""
        time, place = np.ascontiguousarray(part.time), {int(row): at for at, row in enumerate(part.rows)}
        for watched in self._watched:
            at = place.get(watched.row.index)
            if at is not None:
                values = np.ascontiguousarray(part.values[at])
                self._seen[watched.row.index] = self._seen.get(watched.row.index, 0) + len(values)
                _top(time, values, watched.sign, watched.levels, watched.counts, watched.times)

    def end(self, motion: SlowMotion) -> list[Finding]:
        """What was found."""
        return [self._finding(watched) for watched in self._watched if _saturated(watched)]

    def _finding(self, watched: _Watched) -> Finding:
        row, runs, count = watched.row, int(watched.counts[3]), int(watched.counts[0])
        limit = f"{watched.sign * watched.levels[0] / unit(row.signal.said).factor:.5g} {row.signal.said}"
        times = ", ".join(f"{time:.2f} s" for time in watched.times[: min(runs, 4)])
        word = "greatest" if watched.sign > 0 else "least"
        more = " ..." if runs > 4 else ""  # noqa: PLR2004 - four told
        text = f"{row.label}: stops {runs} times at the same {word} value, {limit} ({count} samples; {times}{more})"
        ratio = watched.counts[0] / max(watched.counts[1], watched.counts[2], 1.0)
        effect = f"peaks are cut off: {carries(row.signal.name)}"
        severity = IMPAIRS if row.essential else NOTE
        remedy = "a wider range of the sensor or of the logger's input; or it is the hard stop itself"
        sure = min(0.99, 1.0 - 1.0 / ratio)
        return Finding("saturation", row.label, np.nan, np.nan, sure, severity, text, effect, "saturated", remedy, rows=(row.index,))


def _saturated(watched: _Watched) -> bool:
    """Several runs, or many samples, at the greatest value, and few just below it."""
    counts = watched.counts
    return bool(
        counts[0] >= LEAST and counts[3] > 1 and counts[0] >= TIMES * max(counts[1], counts[2], 1.0) and np.isfinite(watched.levels[1])
    )

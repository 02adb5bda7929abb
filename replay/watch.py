"""Watches a log pass by: time must run forward; gaps and stretches without a value are told with start and length."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput, SeveralBadInputs
from replay.log import Log, LogPart, Notice

Array = NDArray[np.float64]

GAP_STEPS: Final = 2.5  # a step longer than this many typical ones is a gap: two samples lost, jitter is not
TYPICAL_FROM: Final = 1000  # steps at the start of the log that say what is typical
LONGEST_GAP: Final = 600.0  # s; beyond it a clock was set or the logger slept: two logs, not one
MOST_NOTICES: Final = 500  # of one kind and channel; the rest are counted


class Watch:
    """Checks parts in order and collects notices; memory doesn't grow with the log."""

    def __init__(self, log: Log, needed: Collection[str] | None) -> None:
        self.notices: list[Notice] = []
        self._log = log
        self._needed = needed
        self._last = (np.nan, np.nan)  # stamp and time of the last sample
        self._typical = 0.0
        self._samples = 0
        self._since: dict[int, float] = {}  # row -> start of the stretch without a value it is in
        self._bridges = log.bridges
        self._with_value: set[int] = set()
        self._counted: Counter[tuple[str, str]] = Counter()

    def see(self, part: LogPart) -> None:
        """Check the next part."""
        if not len(part.time):
            return
        self._time(part)
        for found in self._log.resolved.found:
            self._values(found.row, found.label, part)
        self._last = (float(part.stamps[-1]), float(part.time[-1]))
        self._samples += len(part.time)

    def end(self) -> None:
        """What can only be told once all samples were seen."""
        if not self._samples:
            raise BadInput(self._log.name, "the log is empty: expected at least one row of numbers")
        for found in self._log.resolved.found:
            if found.row in self._since:
                self._stretch(found.label, self._since[found.row], self._last[1], found.row)
        for (kind, channel), count in self._counted.items():
            if count > MOST_NOTICES:
                text = f"{channel}: {count - MOST_NOTICES} more of these".removeprefix(": ")
                self.notices.append(Notice(kind, channel, np.nan, np.nan, text))
        self._refuse_empty()

    def _refuse_empty(self) -> None:
        problems = []
        for found in self._log.resolved.found:
            if found.row in self._with_value:
                continue
            text = f"column {found.column!r} ({found.label}) has no value in the whole log"
            if self._needed is None or found.channel.name in self._needed:
                problems.append(BadInput(self._log.name, text))
            else:
                self.notices.append(Notice("empty channel", found.label, 0.0, self._last[1], text))
        if problems:
            raise problems[0] if len(problems) == 1 else SeveralBadInputs(problems)

    def _time(self, part: LogPart) -> None:
        if not np.isfinite(part.time).all():
            at = int(np.argmin(np.isfinite(part.time)))
            raise BadInput(self._log.place(int(part.lines[at])), "time is blank or not a number")
        stamps = np.concatenate([[self._last[0]], part.stamps]) if self._samples else part.stamps
        time = np.concatenate([[self._last[1]], part.time]) if self._samples else part.time
        steps = np.diff(time)
        lines = part.lines if self._samples else part.lines[1:]
        if not (steps > 0).all():
            at = int(np.argmin(steps > 0))
            self._refuse_step(self._log.place(int(lines[at])), float(stamps[at]), float(stamps[at + 1]))
        if not self._typical and len(steps):
            self._typical = float(np.quantile(steps[:TYPICAL_FROM], 0.5, method="lower"))
        for step in np.flatnonzero(steps > min(GAP_STEPS * self._typical, LONGEST_GAP)):
            at = int(step)
            self._gap(self._log.place(int(lines[at])), float(time[at]), float(steps[at]))

    def _refuse_step(self, place: str, before: float, after: float) -> None:
        word = "stands still" if after == before else "runs backwards"
        raise BadInput(place, f"time {word}: {after:.15g} after {before:.15g}")

    def _gap(self, place: str, start: float, length: float) -> None:
        if length > LONGEST_GAP:
            raise BadInput(
                place, f"time jumps by {length:.6g} s; longer than {LONGEST_GAP:g} s is a clock that was set, not a gap: cut the log here"
            )
        self._tell("gap", "", start, length, f"no sample for {length:.3f} s from {start:.3f} s (usual step {self._typical * 1e3:.3g} ms)")

    def _values(self, row: int, label: str, part: LogPart) -> None:
        values = part.values[row]
        if not np.isnan(values.min()):  # min hands a NaN on, and is quicker than looking at each
            self._with_value.add(row)
            if row in self._since:
                self._stretch(label, self._since.pop(row), float(part.time[0]), row)
            return
        blank = np.isnan(values)
        edges: list[int] = np.flatnonzero(np.diff(np.concatenate([[row in self._since], blank]).astype(np.int8))).tolist()
        for edge in edges:
            if blank[edge]:
                self._since[row] = float(part.time[edge])
            else:
                self._stretch(label, self._since.pop(row), float(part.time[edge]), row)
        if not blank.all():
            self._with_value.add(row)

    def _stretch(self, label: str, start: float, end: float, row: int) -> None:
        if end - start > self._bridges[row] or not self._bridges[row]:
            self._tell("no value", label, start, end - start, f"{label}: no value from {start:.3f} s to {end:.3f} s")

    def _tell(self, kind: str, channel: str, start: float, length: float, text: str) -> None:
        self._counted[kind, channel] += 1
        if self._counted[kind, channel] <= MOST_NOTICES:
            self.notices.append(Notice(kind, channel, start, length, text))

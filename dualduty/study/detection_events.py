"""What became of every true interval, and of every detection: one to one, by the closest onset.

A true interval is **found** by the detection paired with it, **merged** when the detection that covers it is paired with
another one, **missed** when none touches it. A detection without a partner is a **fragment** when it touches a true
interval, **ignored** when it touches a stretch in which nobody is sure, else **false**. Edges are soft by a margin.

References
----------
As in `replay.check.detector_check`, with overlap in place of a collar on the onset: truth is exact here, so lateness is measured,
and decides nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final

from dualduty.study.drives import Drive
from dualduty.study.stretches import stretches
from dualduty.study.truth import TruthLine
from replay.check.intervals import Interval
from replay.check.matching import cut_to, match, total_length, touches

MARGIN: Final = 0.02  # s; control practice: edges of truth and of marks are soft by about a wheel-hop half-cycle
CLASSES: Final = ((0.03, 0.12), (0.12, 0.2), (0.2, 0.5), (0.5, 1e9))  # s


@dataclass(frozen=True)
class Outcome:
    """What became of one true interval; latencies are NaN unless it was found. [s]"""

    state: str
    where: str
    section: str
    mode: str
    kind: str
    size: float
    onset: float
    offset: float


@dataclass
class Tally:
    """What became of all detections of one state, and how long nothing was to be detected. [s]"""

    false: int = 0
    fragments: int = 0
    ignored: int = 0
    quiet_time: float = 0.0
    false_time: float = 0.0
    false_by_section: dict[str, int] = field(default_factory=dict)

    @property
    def false_per_minute(self) -> float:
        """False detections per minute without any event."""
        return 60.0 * self.false / self.quiet_time if self.quiet_time > 0 else float("nan")


@dataclass
class Events:
    """Outcomes of many drives, and a tally per state."""

    outcomes: list[Outcome] = field(default_factory=list)
    tallies: dict[str, Tally] = field(default_factory=dict)

    def add(self, drive: Drive, lines: Iterable[TruthLine] | None = None) -> None:
        """Take in one drive: every state that both the strategy and the truth know, or only these."""
        for line in drive.lines if lines is None else lines:
            if line.state in drive.states:
                gate = drive.states[line.state][max(line.corner, 0)]
                self.add_line(line, stretches(gate, drive.dt), drive)

    def add_line(self, line: TruthLine, detections: Sequence[Interval], drive: Drive) -> None:
        """Take in one state of one drive."""
        true = [one.interval for one in line.sure]
        pairs = match(true, detections, lambda mark, found: touches(found, mark, MARGIN), MARGIN)
        for number, one in enumerate(line.sure):
            told = (line.state, line.where, drive.case.section, drive.case.mode)
            if number in pairs:
                start, end = detections[pairs[number]]
                self.outcomes.append(Outcome(*told, "found", one.size, start - one.start, end - one.end))
            else:
                kind = "merged" if any(touches(found, one.interval, MARGIN) for found in detections) else "missed"
                self.outcomes.append(Outcome(*told, kind, one.size, float("nan"), float("nan")))
        paired = set(pairs.values())
        self._tally(line, true, [one for number, one in enumerate(detections) if number not in paired], drive)

    def _tally(self, line: TruthLine, true: Sequence[Interval], unpaired: Sequence[Interval], drive: Drive) -> None:
        tally = self.tallies.setdefault(line.state, Tally())
        for one in unpaired:
            if any(touches(one, other, MARGIN) for other in true):
                tally.fragments += 1
            elif any(touches(one, other, MARGIN) for other in line.unsure):
                tally.ignored += 1
            else:
                tally.false += 1
                tally.false_time += one[1] - one[0]
                tally.false_by_section[drive.case.section] = tally.false_by_section.get(drive.case.section, 0) + 1
        whole = [(0.0, drive.length)]
        events = [(start - MARGIN, end + MARGIN) for start, end in (*true, *line.unsure)]
        tally.quiet_time += drive.length - total_length(cut_to(events, whole))


def class_label(bounds: tuple[float, float]) -> str:
    """A duration class in words."""
    low, high = (round(1e3 * value) for value in bounds)
    return f"{low} to {high} ms" if high < 10_000 else f"over {low} ms"  # noqa: PLR2004 - the last class is open

"""Replay a recorded run through baseline and candidate, and hold their detectors against its marks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import nan
from typing import Any, Final

from dualduty.calibration.model import Calibration
from dualduty.discovery import PlugIns
from dualduty.errors import BadInput
from dualduty.scoring.compare import compare
from dualduty.scoring.score import join_scores, score
from dualduty.trace import Case, Trace, TraceChunk
from dualduty.trial.clock import DT, Progress
from dualduty.trial.run_sheet import RunSheet
from dualduty.trial.settled_marks import at_marks, settled_marks
from replay.check.detector_check import CheckResult, check
from replay.check.detector_gates import Gates
from replay.notice import Notice
from replay.open_loop import replay
from strategies.controller import Strategy

CHECKED: Final = ("airborne", "landing", "cornering", "braking")  # false ones count even where nothing is marked
SHORT_GAP = 0.05  # s
HELD_TICKS = 60_000  # a log up to two minutes is kept in memory; a longer one is run anew for each use


@dataclass(frozen=True)
class Replayed:
    """A log replayed: a trace per calibration, what was noticed about the recording, and each trace against the marks."""

    sheet: RunSheet
    calibrations: tuple[Calibration, ...]
    traces: tuple[Trace, ...]
    notices: tuple[Notice, ...]
    checks: tuple[CheckResult, ...] = ()

    def notice_lines(self) -> list[str]:
        """What was noticed about the recording, in words: long stretches by name, short ones counted."""
        long = [str(notice) for notice in self.notices if not 0.0 < notice.length < SHORT_GAP]
        short = [notice for notice in self.notices if 0.0 < notice.length < SHORT_GAP]
        if short:
            channels = len({notice.channel for notice in short})
            long.append(f"{len(short)} gaps shorter than {1e3 * SHORT_GAP:.0f} ms in {channels} channels; the last good value stood in")
        return long

    def score_rows(self) -> list[dict[str, Any]]:
        """Rows for the report: duties as both calibrations would have commanded them; all else as the log was driven."""
        scores = join_scores([score(trace, each.car) for trace, each in zip(self.traces, self.calibrations, strict=True)])
        card = compare(scores, self.calibrations[0].name, self.calibrations[-1].name)
        moving = [cell.to_row() for cell in card.cells if cell.measure.moves_in_open_loop]
        return [*moving, *(self._as_driven(row) for row in scores.to_rows() if row["belongs_to"] != row["candidate"] or not moving)]

    def _as_driven(self, row: dict[str, Any]) -> dict[str, Any]:
        """A response score: it stands in the column of what was driven, and has nothing beside it."""
        return row | {"baseline": row["value"], "candidate": nan, "change_pct": nan, "band": nan, "verdict": "not comparable"}


def replay_run(
    sheet: RunSheet, calibrations: Sequence[Calibration], plug_ins: PlugIns, *, gates: Gates | None = None, progress: Progress | None = None
) -> Replayed:
    """Replay one run through each calibration and check it by the rules of `gates`; on a log only states and commands move."""
    log = sheet.open()
    traces = [_held(replay(log, _strategy(each, plug_ins), case=_case(sheet, each), progress=progress)) for each in calibrations]
    suppliers = [state_suppliers(each, plug_ins) for each in calibrations]
    return Replayed(sheet, tuple(calibrations), tuple(traces), tuple(log.notices), _checks(sheet, traces, suppliers, gates))


def _checks(
    sheet: RunSheet, traces: Sequence[Trace], suppliers: Sequence[Mapping[str, str]], gates: Gates | None
) -> tuple[CheckResult, ...]:
    """The detectors of each trace against the marks of the run; none where nothing was marked."""
    if sheet.marks is None:
        return ()
    marks, _ = settled_marks(sheet)
    rules = gates.rules if gates else None
    sought = [name for name in CHECKED if sheet.looked_for(name)]
    try:
        return tuple(
            check(trace, marks, rules, states=[name for name in sought if name in trace.header.states], suppliers=each)
            for trace, each in zip(traces, suppliers, strict=True)
        )
    except BadInput as problem:
        raise at_marks(problem, sheet.marks) from None


def state_suppliers(calibration: Calibration, plug_ins: PlugIns) -> dict[str, str]:
    """Detector class by state."""
    classes = (plug_ins.by_name[name] for name in calibration.suppliers)
    return {given.name: found.name for found in classes for given in found.gives if given.is_state}


def _strategy(calibration: Calibration, plug_ins: PlugIns) -> Strategy:
    return Strategy([calibration], [0], plug_ins, DT)


def _case(sheet: RunSheet, calibration: Calibration) -> Case:
    return Case(section=sheet.name, candidate=calibration.name, mode="as driven", vehicle=sheet.vehicle)


def _held(trace: Trace) -> Trace:
    """The trace, read to its end once, with its chunks in memory where they are few."""
    chunks: list[TraceChunk] = []
    ticks = 0
    for chunk in trace:
        ticks += chunk.ticks
        if ticks > HELD_TICKS:
            chunks.clear()
        else:
            chunks.append(chunk)
    return Trace.held(trace.header, chunks) if ticks <= HELD_TICKS else trace

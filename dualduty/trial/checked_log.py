"""The detectors of a calibration over one marked log: only what sees is run, no law and no layer."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field
from time import perf_counter
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.discovery import PlugIns
from dualduty.errors import BadInput
from dualduty.trace import Case, Trace
from dualduty.trial.clock import DT
from dualduty.trial.logs import CHECKED, Replayed, state_suppliers
from dualduty.trial.run_sheet import RunSheet
from dualduty.trial.settled_marks import at_marks
from replay.check.detector_check import CheckResult, check, sure_at_least
from replay.check.detector_gates import Gates
from replay.check.reference import KeptLog, recording_digest
from replay.log import Log
from replay.marks.mark import NOT_STATES, Mark
from replay.notice import Notice
from replay.open_loop import replay
from strategies.detections import Detections

RATE_SAMPLES: Final = 2000
GAP: Final = 1.5  # steps
Progress = Callable[[float], None]


@dataclass(frozen=True)
class CheckedLog:
    """A log, its trace of states, what the check found, the slowest rate of what the detectors read [Hz], what was noticed.

    `seconds` is how long the check took. `said` are lines about the marks.
    """

    sheet: RunSheet
    trace: Trace
    result: CheckResult
    rate: float
    notices: tuple[Notice, ...] = ()
    said: tuple[str, ...] = ()
    seconds: float = 0.0

    def notice_lines(self) -> list[str]:
        """What was noticed about the recording, in words: long stretches by name, short ones counted."""
        return Replayed(self.sheet, (), (), self.notices).notice_lines()

    @property
    def kept(self) -> KeptLog:
        """As a reference holds it."""
        return KeptLog(self.sheet.name, recording_digest(self.trace.header.digests), self.result)


@dataclass(frozen=True)
class Checker:
    """A calibration whose detectors are held against marks: by which gates, from which certainty of a mark on."""

    calibration: Calibration
    plug_ins: PlugIns
    gates: Gates = field(default_factory=Gates)
    least_sure: float = 0.5

    @property
    def suppliers(self) -> dict[str, str]:
        """Detector class by state."""
        return state_suppliers(self.calibration, self.plug_ins)

    def check_log(self, sheet: RunSheet, marks: Sequence[Mark], progress: Progress | None = None) -> CheckedLog:
        """Run the detectors over a log and compare with its marks."""
        began = perf_counter()
        log = sheet.open()
        suppliers = self.suppliers
        _refuse_unknown(sheet, suppliers)
        wanted = [name for name in (*CHECKED, *self.gates.gates) if name in suppliers and sheet.looked_for(name)]
        marked = {mark.state for mark in marks if mark.state not in NOT_STATES}
        states = tuple(dict.fromkeys([*marked, *wanted])) if marked <= suppliers.keys() else ()
        controller = Detections([self.calibration], [0], self.plug_ins, DT, states=sorted(states))
        rate = slowest_rate(log, controller.required)
        case = Case(section=sheet.name, candidate=self.calibration.name, mode="as driven", vehicle=sheet.vehicle)
        trace = replay(log, controller, case=case, progress=progress)
        try:
            result = check(
                trace, sure_at_least(marks, self.least_sure), self.gates.rules, states=list(dict.fromkeys(wanted)), suppliers=suppliers
            )
        except BadInput as problem:
            raise at_marks(problem, sheet.marks) from None
        return CheckedLog(sheet, trace, result, rate, tuple(log.notices), seconds=perf_counter() - began)


def _refuse_unknown(sheet: RunSheet, suppliers: Collection[str]) -> None:
    for name in sheet.marked:
        if name not in suppliers:
            near = difflib.get_close_matches(name, suppliers, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"it has {', '.join(suppliers)}"
            raise BadInput(f"run {sheet.name}: marked", f"{name!r} is no state of this calibration; {hint}")


def slowest_rate(log: Log, names: Sequence[str]) -> float:
    """Rate of the slowest stream that holds any of these signals, from its first samples; NaN where none is long enough. [Hz]"""
    wanted = {row for name in names if name in log.layout.rows for row in range(log.layout.size)[log.layout.rows[name]]}
    waiting = {stream.index: np.zeros(0) for stream in log.streams if wanted.intersection(stream.rows.tolist())}
    steps: dict[int, float] = {}
    for part in log.parts(()):
        if part.stream in waiting and part.stream not in steps:
            waiting[part.stream] = np.concatenate([waiting[part.stream], part.time])
            if len(waiting[part.stream]) >= RATE_SAMPLES or part.ended:
                steps[part.stream] = _step(waiting[part.stream])
        if len(steps) == len(waiting):
            break
    known = [step for step in steps.values() if step > 0]
    return 1.0 / max(known) if known else np.nan


def _step(times: NDArray[np.float64]) -> float:
    """Mean step between stamps, gaps left out: a median would be that of the jitter. [s]"""
    steps = np.diff(times)
    return float(steps[steps <= GAP * np.median(steps)].mean()) if len(steps) else np.nan

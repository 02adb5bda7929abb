"""A detector's parameter, or a pair, swept over all marked logs in one pass: what a check would say of every value."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, closing
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.discovery import PlugIns
from dualduty.errors import BadInput
from dualduty.trial.clock import DT
from dualduty.trial.logs import state_suppliers
from dualduty.trial.run_sheet import RunSheet
from dualduty.trial.settled_marks import at_marks, settled_marks
from dualduty.trial.swept_parameter import SweptParameter, current_settings, settings_of_cases
from replay.check.detector_check import sure_at_least
from replay.check.detector_gates import Gates
from replay.check.pool import pooled
from replay.check.result import CheckResult, StateResult
from replay.check.rules import Rule, usual_rule
from replay.check.sweep_check import StateCheck
from replay.marks.mark import Mark
from replay.open_loop import replay
from strategies.swept_detections import SweptDetections

Array = NDArray[np.float64]
Bar = Callable[[str], AbstractContextManager[Callable[[float], None]]]
MarkedLog = tuple[RunSheet, list[Mark]]


@dataclass(frozen=True)
class SweepPlan:
    """What is to be swept: one parameter or two of a calibration, the state that is judged, by which gates.

    Marks less sure than `least_sure` count neither way.
    """

    calibration: Calibration
    parameters: tuple[SweptParameter, ...]
    state: str
    gates: Gates
    least_sure: float = 0.5

    @property
    def rule(self) -> Rule:
        """What finds a mark of the state."""
        return self.gates.rules.get(self.state) or usual_rule(self.state)


@dataclass(frozen=True)
class Sweep:
    """Results over all logs, `cases` by number and `current` of the calibration as it is.

    grid : (value,) or (value, second value) int array
        Case of each combination of values; -1 where they contradict each other.
    keeps : (case,) bool array
        Whether every gate of the state is kept; all true where it has none.
    """

    plan: SweepPlan
    grid: NDArray[np.int64]
    cases: tuple[CheckResult, ...]
    current: CheckResult
    keeps: NDArray[np.bool_]
    current_keeps: bool
    moved: tuple[str, ...]
    logs: tuple[str, ...]
    ticks: int

    def figure(self, read: Callable[[StateResult], float]) -> Array:
        """A figure of every combination, as `grid`; NaN where values contradict each other."""
        values = np.array([*(read(result.of(self.plan.state)) for result in self.cases), np.nan])
        return np.asarray(values[self.grid])

    @property
    def kept(self) -> NDArray[np.bool_]:
        """As `grid`: where every gate is kept."""
        return np.asarray(np.append(self.keeps, False)[self.grid])

    @property
    def gated(self) -> bool:
        """Whether the state has any gate."""
        gate = self.plan.gates.gates.get(self.plan.state)
        return gate is not None and bool(_limits(self.plan, self.current))


def sweep(plan: SweepPlan, logs: Sequence[MarkedLog], plug_ins: PlugIns, bar: Bar) -> Sweep:
    """Run all values over every log; `bar` opens a progress bar with a title."""
    made = settings_of_cases(plan.parameters, plan.calibration)
    for name, now in current_settings(plan.parameters, plan.calibration).items():
        made.settings[name].append(now)  # the calibration as it is runs beside them
    results: list[list[CheckResult]] = []
    ticks = 0
    with closing(SweptDetections(plan.calibration, made.settings, plug_ins, DT, plan.state)) as controller:
        for sheet, marks in logs:
            with bar(f"sweeping {sheet.name}") as step:
                deque(replay(sheet.open(), controller, progress=step, keep_signals=False), maxlen=0)  # run to the end, nothing kept
            ticks += controller.ran
            results.append(_judged(controller, plan, (sheet, marks), _supplier(plan, plug_ins)))
    over_all = [pooled(list(each)) for each in zip(*results, strict=True)]
    keeps = np.array([all(limit.kept for limit in _limits(plan, result)) for result in over_all])
    return Sweep(
        plan, made.grid, tuple(over_all[:-1]), over_all[-1], keeps[:-1], bool(keeps[-1]), made.moved,
        tuple(sheet.name for sheet, _ in logs), ticks,
    )  # fmt: skip


def _judged(controller: SweptDetections, plan: SweepPlan, log: MarkedLog, supplier: str) -> list[CheckResult]:
    """What a check says of every case of the latest pass."""
    sheet, marks = log
    judge = StateCheck(plan.state, plan.rule, sure_at_least(marks, plan.least_sure), supplier)
    try:
        return [judge.of(rows, controller.ran, DT) for rows in controller.changes()]
    except BadInput as problem:
        raise at_marks(problem, sheet.marks) from None


def _limits(plan: SweepPlan, result: CheckResult) -> list[Any]:
    own = {plan.state: plan.gates.gates[plan.state]} if plan.state in plan.gates.gates else {}
    return Gates(own, plan.gates.rules).limits(result)


def _supplier(plan: SweepPlan, plug_ins: PlugIns) -> str:
    return state_suppliers(plan.calibration, plug_ins).get(plan.state, "")


def marked_logs(sheets: Sequence[RunSheet]) -> list[MarkedLog]:
    """Runs with their marks, those of several people made one set."""
    return [(sheet, settled_marks(sheet)[0]) for sheet in sheets if sheet.marks]


def looked_for(state: str, logs: Sequence[MarkedLog]) -> list[MarkedLog]:
    """The runs in which somebody looked for a state; BadInput where there is none."""
    found = [(sheet, marks) for sheet, marks in logs if sheet.looked_for(state)]
    if not found:
        raise BadInput("--state", f"{state}: nobody looked for it; marked = [...] of every run file names other states")
    return found


def state_to_judge(wanted: str, parameters: Sequence[SweptParameter], logs: Sequence[MarkedLog], gates: Gates) -> str:
    """The state asked for, else the one of the swept detectors that is marked; BadInput where that leaves none or several."""
    if wanted:
        return wanted
    given = [entry.name for parameter in parameters for entry in parameter.found.gives if entry.is_state]
    marked = {mark.state for _, marks in logs for mark in marks if mark.counts}
    found = [name for name in dict.fromkeys(given) if name in marked]
    if len(found) > 1:
        found = [name for name in found if name in gates.gates] or found
    if len(found) == 1:
        return found[0]
    names = " and ".join(dict.fromkeys(parameter.found.name for parameter in parameters))
    if found:
        raise BadInput("--state", f"{', '.join(found)} of {names} are marked; expected one of them")
    said = f"gives {', '.join(given)}" if given else "gives no state"
    raise BadInput(
        "--state", f"{names} {said}, of which nothing is marked; expected a marked state that depends on it: {', '.join(sorted(marked))}"
    )

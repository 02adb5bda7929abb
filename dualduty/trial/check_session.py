"""A detector check over all marked logs of a calibration: log by log, over all of them, beside a kept one, and against the limits."""

from __future__ import annotations

import platform
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from importlib.metadata import version

from dualduty import __version__
from dualduty.calibration.model import Calibration
from dualduty.trial.checked_log import CheckedLog, Checker
from dualduty.trial.run_sheet import RunSheet
from dualduty.trial.settled_marks import settled_marks
from replay.check.comparison import Comparison, compare_checks
from replay.check.confidence import Confidence, confidence
from replay.check.detector_gates import Gates, Limit
from replay.check.pool import pooled
from replay.check.reference import Reference
from replay.check.result import CheckResult

Bar = Callable[[str], AbstractContextManager[Callable[[float], None]]]


@dataclass(frozen=True)
class CheckSession:
    """Everything a check found."""

    calibration: Calibration
    gates: Gates
    logs: tuple[CheckedLog, ...]
    over_all: CheckResult
    comparison: Comparison | None
    limits: tuple[Limit, ...]
    confidence: dict[str, Confidence]

    @property
    def crossed(self) -> list[Limit]:
        """Limits that are not kept."""
        return [limit for limit in self.limits if not limit.kept]

    @property
    def called(self) -> str:
        """What all logs together are called: the one there is, else how many."""
        return self.logs[0].sheet.name if len(self.logs) == 1 else f"all {len(self.logs)} logs"

    @property
    def reference(self) -> Reference:
        """To be kept for the next check."""
        versions = {"dualduty": __version__, "python": platform.python_version()}
        versions |= {name: version(name) for name in ("numpy", "scipy", "numba")}
        return Reference(self.calibration.name, self.calibration.digest, tuple(log.kept for log in self.logs), versions)

    @property
    def judged(self) -> list[str]:
        """States with anything to say of: marked, seen or held to a limit."""
        return [
            one.state
            for one in self.over_all.states
            if one.detections or one.found + one.missed + one.own_found + one.own_missed or one.state in self.gates.gates
        ]


def check_session(checker: Checker, sheets: Sequence[RunSheet], reference: Reference | None, bar: Bar) -> CheckSession:
    """Check every log, then all of them as one; `bar` opens a progress bar with a title."""
    logs = []
    settled = [settled_marks(sheet) for sheet in sheets]  # first, so that a wrong line is told before any log is read
    for sheet, (marks, said) in zip(sheets, settled, strict=True):
        with bar(f"checking {sheet.name}") as step:
            logs.append(replace(checker.check_log(sheet, marks, step), said=said))
    return session_of(checker.calibration, checker.gates, logs, reference)


def session_of(calibration: Calibration, gates: Gates, logs: Sequence[CheckedLog], reference: Reference | None) -> CheckSession:
    """Figures, limits and comparison of logs that are checked."""
    results = [log.result for log in logs]
    over_all = pooled(results)
    unsought = {name for name in gates.gates if not any(log.sheet.looked_for(name) for log in logs)}
    comparison = compare_checks(reference, [log.kept for log in logs]) if reference else None
    return CheckSession(
        calibration, gates, tuple(logs), over_all, comparison,
        tuple(limit for limit in gates.limits(over_all, comparison) if limit.key or limit.state not in unsought),
        {one.state: confidence(results, one.state) for one in over_all.states},
    )  # fmt: skip

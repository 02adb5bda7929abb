"""Replay what drove a log and hold it against what the vehicle recorded of its own controller."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from dualduty.calibration.difference import differences
from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.discovery import PlugIns
from dualduty.errors import BadInput
from dualduty.toml_file import read_toml
from dualduty.trial.clock import Progress
from dualduty.trial.folder import WorkFolder
from dualduty.trial.logs import Replayed, replay_run
from dualduty.trial.run_sheet import RunSheet
from replay.log import Log
from replay.sameness.grounding import AGREE, Grounding, judge
from replay.sameness.sameness import Sameness, SamenessRules, sameness

LOG_STEP: Final = 0.005  # s; where a log has too few samples to tell its own
MOST_DIFFERENCES: Final = 6  # named of a calibration that fits better
TIE: Final = 1e-9


@dataclass(frozen=True)
class Ranked:
    """One calibration of a folder as the possible driver of a log: its agreement by side, and in what it differs from the named one."""

    file: Path
    name: str
    found: Sameness
    grounding: Grounding
    differs: tuple[str, ...]

    @property
    def key(self) -> tuple[float, float]:
        """What it is ranked by: agreement of the worse side, then how close the duties are on average."""
        tally = self.found.tally
        compared = max(int(tally.compared.sum()), 1)
        share = self.grounding.agreement
        return (0.0 if np.isnan(share) else share, -float(tally.apart.sum()) / compared)


def grounding(replayed: Replayed, least: float = AGREE) -> Grounding:
    """Whether claims about a replayed log are grounded, by the calibration among the replayed ones that drove it."""
    named = named_driver(replayed.sheet)
    for calibration, trace in zip(replayed.calibrations, replayed.traces, strict=True):
        if _is(calibration, replayed.sheet):
            return judge(sameness(trace, rules_for(replayed.sheet.open(), SamenessRules())), least)
    text = f"not grounded, not checked: the log names {named or 'no calibration'}, which was not replayed"
    return Grounding(float("nan"), "", float("nan"), grounded=False, text=text)


def named_driver(sheet: RunSheet) -> str:
    """What the run file says of the calibration that drove: a name, or else its file."""
    return sheet.driven_by or (sheet.calibration.name if sheet.calibration else "")


def _is(calibration: Calibration, sheet: RunSheet) -> bool:
    if sheet.calibration is not None and not sheet.driven_by:
        return calibration.file.resolve() == sheet.calibration.resolve()
    return calibration.name == sheet.driven_by


def driver_file(sheet: RunSheet, work: WorkFolder) -> Path:
    """The file of the calibration that drove: the one the run file names, else the one of that name among the folder's strategies."""
    if sheet.calibration is not None:
        return sheet.calibration
    files = calibration_files(work)
    for path in files:
        if read_toml(path).get("name") == sheet.driven_by or path.stem == sheet.driven_by:
            return path
    if not sheet.driven_by:
        raise BadInput(f"run {sheet.name}", "names no calibration that drove it; expected driven_by or calibration in its run file")
    known = ", ".join(str(read_toml(path).get("name", path.stem)) for path in files) or "none"
    raise BadInput(f"run {sheet.name}: driven_by", f"expected a calibration of {work.strategies}, came {sheet.driven_by!r}; known: {known}")


def calibration_files(work: WorkFolder) -> list[Path]:
    """Calibrations of a working folder."""
    return sorted(work.strategies.glob("*.toml")) if work.strategies.is_dir() else []


def rules_for(log: Log, rules: SamenessRules) -> SamenessRules:
    """The rules with the step at which the log holds its duties."""
    return replace(rules, log_step=log_step(log))


def log_step(log: Log) -> float:
    """Usual time between logged duties (of states where there are none), from the first part that has some. [s]"""
    names = [name for name in log.layout.names if name.startswith(("logged_", "applied_"))]
    wanted = np.concatenate([np.arange(log.layout.size)[log.layout.rows[name]] for name in names]) if names else np.empty(0, int)
    for part in log.parts(()):
        held = np.isfinite(part.values[np.isin(part.rows, wanted)])
        if held.any() and (times := part.time[held.any(axis=0)]).size > 2:  # noqa: PLR2004 - two steps at least
            return float(np.median(np.diff(times)))
    return LOG_STEP


def sameness_of(
    sheet: RunSheet, calibration: Calibration, plug_ins: PlugIns, rules: SamenessRules, progress: Progress | None = None
) -> tuple[Replayed, Sameness]:
    """Replay a run through one calibration and compare it with what was logged."""
    replayed = replay_run(replace(sheet, marks=None), [calibration], plug_ins, progress=progress)
    return replayed, sameness(replayed.traces[0], rules_for(sheet.open(), rules))


def ranked(
    sheet: RunSheet, files: Sequence[Path], named: Calibration, plug_ins: PlugIns, rules: SamenessRules, least: float = AGREE
) -> tuple[list[Ranked], list[str]]:
    """Every calibration as the possible driver, the one that fits best first; and in words those that can't be read or run."""
    found, unfit = [], []
    for path in files:
        try:
            calibration = read_calibration(path, plug_ins)
            same = sameness_of(sheet, calibration, plug_ins, rules)[1]
        except BadInput as problem:
            unfit.append(f"{path.stem} was not tried: {problem}")
            continue
        changes = () if calibration.name == named.name else tuple(_differences(named, calibration, same))
        found.append(Ranked(path, calibration.name, same, judge(same, least), changes))
    return sorted(found, key=lambda one: one.key, reverse=True), unfit


def _differences(named: Calibration, other: Calibration, found: Sameness) -> Iterator[str]:
    """What differs in the drive modes that were driven."""
    idle = {mode for index, mode in enumerate(found.modes) if not found.tally.compared[:, :, index].any()}
    return (str(change) for change in differences(named, other) if change.mode not in idle)


def verdict(order: Sequence[Ranked], named: str) -> str:
    """What a ranking says about the name in the run file, in a sentence."""
    if not order or not order[0].grounding.told:
        return "no calibration of the folder can be told from another by this log"
    best = order[0]
    alike = [one.name for one in order if abs(one.key[0] - best.key[0]) <= TIE and abs(one.key[1] - best.key[1]) <= TIE]
    if named in alike:
        others = [name for name in alike if name != named]
        return f"the log fits {named} best" + (f"; on this log {', '.join(others)} would have done the same" if others else "")
    nearest = min((one for one in order if one.name in alike), key=lambda one: len(one.differs))
    differs = f"; from {named} it differs in {'; '.join(nearest.differs[:MOST_DIFFERENCES])}" if nearest.differs else ""
    more = f" and {len(nearest.differs) - MOST_DIFFERENCES} more" if len(nearest.differs) > MOST_DIFFERENCES else ""
    others = [name for name in alike if name != nearest.name]
    tie = f" or {', '.join(others)}, which do the same on it," if others else ","
    return f"the log looks as if it was driven with {nearest.name}{tie} not {named}{differs}{more}"

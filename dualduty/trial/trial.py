"""One trial: what was tried, and everything that came of it, before any of it is drawn or written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from dualduty.calibration.difference import Change, differences
from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.discovery import PlugIns
from dualduty.errors import BadInput
from dualduty.scoring.compare import compare
from dualduty.scoring.gate import Gate
from dualduty.scoring.scorecard import Scorecard
from dualduty.toml_file import read_toml
from dualduty.trial.cars import Cars
from dualduty.trial.log_outcome import LogOutcome
from dualduty.trial.simulate import Simulated


@dataclass(frozen=True)
class Pair:
    """Baseline and candidate, read."""

    baseline: Calibration
    candidate: Calibration

    @property
    def changes(self) -> list[Change]:
        """What the candidate changes."""
        return differences(self.baseline, self.candidate)


@dataclass(frozen=True)
class Trial:
    """Everything that came of a trial; `put_in` names the sensor faults it was driven with, `cars` the vehicles that drove."""

    pair: Pair
    simulated: Simulated
    scorecard: Scorecard
    logs: tuple[LogOutcome, ...] = ()
    times: dict[str, float] = field(default_factory=dict)
    put_in: tuple[str, ...] = ()
    cars: Cars | None = None


def read_pair(candidate: Path, baseline: Path | None, plug_ins: PlugIns, *, other_hardware: bool = False) -> Pair:
    """Read both calibrations; the baseline defaults to the file the candidate starts from.

    On other hardware the candidate may be the baseline itself: then only the hardware is tried.
    """
    if other_hardware and baseline is None and "starts_from" not in read_toml(candidate):
        baseline = candidate
    chosen = baseline if baseline is not None else started_from(candidate)
    if other_hardware and chosen.resolve() == candidate.resolve():
        same = read_calibration(candidate, plug_ins)
        return Pair(same, same)
    pair = Pair(read_calibration(chosen, plug_ins), read_calibration(candidate, plug_ins))
    if pair.baseline.modes != pair.candidate.modes:
        raise BadInput(candidate, f"has drive modes {', '.join(pair.candidate.modes)}; the baseline has {', '.join(pair.baseline.modes)}")
    if pair.baseline.name == pair.candidate.name:
        raise BadInput(f"{candidate}: name", f"expected another name than the baseline's, {pair.baseline.name!r}")
    return pair


def started_from(candidate: Path) -> Path:
    """The file a candidate starts from."""
    parent = read_toml(candidate).get("starts_from")
    if not isinstance(parent, str):
        raise BadInput(candidate, "has no starts_from; say what to compare with: --baseline FILE")
    return candidate.parent / parent


def scorecard_of(simulated: Simulated, pair: Pair, gates: Sequence[Gate], cars: Cars | None = None) -> Scorecard:
    """The candidate beside the baseline over everything that was driven."""
    names = {case.section for case in simulated.scores.cases}
    modes = {case.mode for case in simulated.scores.cases}
    asked = [gate for gate in gates if (not gate.sections or names & set(gate.sections)) and (not gate.modes or modes & set(gate.modes))]
    columns = (cars.columns if cars else _names)((pair.baseline, pair.candidate))
    return compare(simulated.scores, columns[0], columns[1], gates=asked)


def _names(calibrations: Sequence[Calibration]) -> list[str]:
    return [calibration.name for calibration in calibrations]

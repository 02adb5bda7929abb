"""What `marks propose` does, with everything imported."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from dualduty.calibration.read import read_calibration
from dualduty.command_line.console import console, progress
from dualduty.command_line.marks_run import tell_proposals
from dualduty.command_line.noticed import tell_noticed
from dualduty.discovery import discover
from dualduty.trial.folder import WorkFolder
from dualduty.trial.proposals import car_of, detector_proposals, offline_proposals
from dualduty.trial.run_marks import RunMarks


def propose_offline(log: str, folder: Path | None, states: Sequence[str], vehicle: str) -> None:
    """By looking at the whole log."""
    run = RunMarks.of(log, folder)
    car = car_of(run.sheet, WorkFolder(folder or run.run_file.resolve().parent.parent), vehicle)
    if car is None:
        console().print(
            f"no vehicle file for {run.sheet.vehicle or 'this run'!r}: usual masses stand in; say which with --vehicle", markup=False
        )
    tell_proposals(run, offline_proposals(run.sheet, states, car))


def propose_detected(
    log: str, folder: Path | None, states: Sequence[str], calibration: str, plugins: tuple[Path, ...], *, quiet: bool
) -> None:  # fmt: skip
    """By the detectors of a calibration."""
    run = RunMarks.of(log, folder)
    plug_ins = discover(plugins)
    read = read_calibration(WorkFolder(folder or Path()).calibration(calibration), plug_ins)
    tell_noticed(read)
    with progress(f"replaying {run.sheet.name}", quiet=quiet) as step:
        found = detector_proposals(run.sheet, read, plug_ins, states, step)
    tell_proposals(run, found)

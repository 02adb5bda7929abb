"""What `check` does, with everything imported."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from rich.table import Table

from dualduty.calibration.read import read_calibration
from dualduty.command_line.console import console, progress
from dualduty.command_line.noticed import tell_noticed
from dualduty.discovery import discover
from dualduty.errors import BadInput
from dualduty.files import check_result_file, check_result_folder
from dualduty.trial.check_junit import write_junit
from dualduty.trial.check_report import COLUMNS, counted_rows, write_check_folder
from dualduty.trial.check_session import CheckSession, check_session
from dualduty.trial.check_words import FIGURES, comparison_lines, event_lines, figure_rows, lines_below, noticed_lines, unmarked_lines
from dualduty.trial.checked_log import CheckedLog, Checker
from dualduty.trial.folder import WorkFolder, work_folder_of
from dualduty.trial.run_sheet import RunSheet, read_run_sheet
from replay.check.detector_gates import Gates, read_gates
from replay.check.reference import KIND, read_reference, write_reference
from replay.check.result import CheckResult


@dataclass(frozen=True)
class Choices:
    """Options of the command, as it names them."""

    folder: Path | None
    logs: tuple[str, ...]
    gates: Path | None
    reference: Path | None
    keep_reference: Path | None
    junit: Path | None
    out: Path | None
    min_sure: float
    plugins: tuple[Path, ...]
    quiet: bool


def run(calibration: str, chosen: Choices) -> int:
    """1 when a limit is not kept."""
    plug_ins = discover(chosen.plugins)
    path = WorkFolder(chosen.folder or Path()).calibration(calibration)
    work = work_folder_of(path, chosen.folder)
    read = read_calibration(path, plug_ins)
    tell_noticed(read)
    checker = Checker(read, plug_ins, _gates(work, chosen.gates), chosen.min_sure / 100.0)
    reference = read_reference(chosen.reference) if chosen.reference else None
    _check_targets(chosen)
    session = check_session(checker, _marked(work, chosen.logs), reference, partial(progress, quiet=chosen.quiet))
    if session.comparison is not None and not any(one.paired for one in session.comparison.states):
        problem = f"has no mark in common with this check ({'; '.join(session.comparison.apart[:1]) or 'other marks'})"
        raise BadInput(chosen.reference or "", f"{problem}; expected a check kept of the same logs and marks")
    _tell(session)
    if chosen.keep_reference is not None:
        write_reference(chosen.keep_reference, session.reference)
    if chosen.junit is not None:
        write_junit(chosen.junit, session)
    if chosen.out is not None:
        write_check_folder(chosen.out, session, plug_ins)
        console().print(f"page {chosen.out / 'check.html'}", markup=False)
    return 1 if session.crossed else 0


def _check_targets(chosen: Choices) -> None:
    """What is asked for can be written, and over nothing but an older result of its kind: said before the logs are read."""
    if chosen.keep_reference is not None:
        check_result_file(chosen.keep_reference, KIND)
    if chosen.junit is not None:
        check_result_file(chosen.junit, "<testsuites")
        if chosen.keep_reference is not None and chosen.junit.absolute() == chosen.keep_reference.absolute():
            raise BadInput(chosen.junit, "expected two files for --junit and --keep-reference, came one")
    if chosen.out is not None:
        check_result_folder(chosen.out)


def _marked(work: WorkFolder, names: tuple[str, ...]) -> list[RunSheet]:
    sheets = [sheet for sheet in map(read_run_sheet, work.log_files(names)) if sheet.marks]
    if not sheets:
        raise BadInput(work.logs, "expected at least one run with marks, found none")
    return sheets


def _gates(work: WorkFolder, chosen: Path | None) -> Gates:
    usual = work.root / "detector_gates.toml"
    if chosen is not None or usual.is_file():
        return read_gates(chosen or usual)
    return Gates()


def _tell(session: CheckSession) -> None:
    for log in session.logs:
        _tell_log(log)
    out = console()
    if len(session.logs) > 1:
        out.print(_counts(session.called, session.over_all))
    out.print(_table("", FIGURES, figure_rows(session)))
    for line in lines_below(session):
        out.print(f"  {line}", markup=False)
    for line in comparison_lines(session.comparison) if session.comparison else ():
        out.print(line, markup=False)
    for limit in session.crossed:
        out.print(f"limit not kept: {session.called}: {limit.said}", markup=False)


def _tell_log(log: CheckedLog) -> None:
    out = console()
    driven = f", driven by {log.sheet.driven_by}" if log.sheet.driven_by else ""
    out.print(_counts(f"{log.sheet.name}{driven}", log.result))
    for line in (*event_lines(log.result), *unmarked_lines(log), *log.said):
        out.print(f"  {line}", markup=False)
    for line in noticed_lines(log):
        out.print(f"  noticed: {line}", markup=False)


def _counts(title: str, result: CheckResult) -> Table:
    return _table(title, COLUMNS, list(counted_rows(result)))


def _table(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
    table = Table(*columns, box=None, pad_edge=False, title=title or None, title_justify="left")
    for row in rows:
        table.add_row(*row)
    return table

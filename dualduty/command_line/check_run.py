"""What `check` does, with everything imported."""

from __future__ import annotations

from pathlib import Path

from rich.table import Table

from dualduty.calibration.read import read_calibration
from dualduty.command_line.console import console, progress
from dualduty.command_line.noticed import tell_noticed
from dualduty.discovery import discover
from dualduty.errors import BadInput
from dualduty.report.detector_picture import draw_detections
from dualduty.report.figure_file import write_figure
from dualduty.trial.detections import detection_rows
from dualduty.trial.folder import WorkFolder, work_folder_of
from dualduty.trial.logs import replay_run
from dualduty.trial.run_sheet import RunSheet, read_run_sheet
from replay.detector_check import CheckResult
from replay.detector_gates import Gates, read_gates

MOST_NAMED = 20


def run(  # noqa: PLR0913 - as the command
    calibration: str,
    folder: Path | None,
    logs: tuple[str, ...],
    *,
    gates: Path | None,
    out: Path | None,
    plugins: tuple[Path, ...],
    quiet: bool,
) -> int:
    """1 when a limit is not kept."""
    plug_ins = discover(plugins)
    path = WorkFolder(folder or Path()).calibration(calibration)
    work = work_folder_of(path, folder)
    read = read_calibration(path, plug_ins)
    tell_noticed(read)
    limits = _gates(work, gates)
    sheets = [read_run_sheet(file) for file in work.log_files(logs)]
    if not any(sheet.marks for sheet in sheets):
        raise BadInput(work.logs, "expected at least one run with marks, found none")
    failures = []
    for sheet in sheets:
        with progress(f"replaying {sheet.name}", quiet=quiet) as step:
            replayed = replay_run(sheet, [read], plug_ins, gates=limits, progress=step)
        for result in replayed.checks:
            _tell(sheet, result)
            failures += [f"{sheet.name}: {line}" for line in limits.failures(result)]
            if out is not None:
                write_figure(draw_detections(detection_rows(result)), out / f"detectors_{sheet.name}.png")
        for line in replayed.notice_lines():
            console().print(f"  noticed: {line}", markup=False)
    for line in failures:
        console().print(f"limit not kept: {line}", markup=False)
    return 1 if failures else 0


def _gates(work: WorkFolder, chosen: Path | None) -> Gates:
    usual = work.root / "detector_gates.toml"
    if chosen is not None or usual.is_file():
        return read_gates(chosen or usual)
    return Gates()


def _tell(sheet: RunSheet, result: CheckResult) -> None:
    table = Table("state", "marks", "found", "missed", "false", "false per min", "onset median", "p90", "worst", box=None, pad_edge=False,
                  title=f"{sheet.name}, driven by {sheet.driven_by}", title_justify="left")  # fmt: skip
    for state in result.states:
        late = [f"{1e3 * value:+.0f} ms" if state.found else "-" for value in state.onset]
        table.add_row(state.state, str(state.found + state.missed), str(state.found), str(state.missed), str(state.false),
                      f"{state.false_per_minute:.2g}", *late)  # fmt: skip
    out = console()
    out.print(table)
    for event in [event for event in result.events if event.outcome in ("missed", "false", "late")][:MOST_NAMED]:
        start = event.detected_start if event.outcome != "missed" else event.mark_start
        out.print(f"  {event.outcome}: {event.state} {event.where} at {start:.2f} s {event.note}".rstrip(), markup=False)

"""What `try` does, with everything imported."""

from __future__ import annotations

from concurrent.futures import Future
from pathlib import Path
from typing import Any

from rich.table import Table

from dualduty.cautions import CAUTIONS, simulated
from dualduty.command_line.console import console, counted, progress, stopwatch
from dualduty.command_line.noticed import tell_noticed
from dualduty.command_line.sensors_given import sensors_given
from dualduty.discovery import PlugIns, discover
from dualduty.errors import BadInput
from dualduty.export.limits import refuse_broken_limits
from dualduty.files import check_result_folder
from dualduty.report.words import headline, say
from dualduty.scoring.gate import Gate
from dualduty.scoring.measure import discover_measures
from dualduty.scoring.scorecard import Cell, Scorecard
from dualduty.trial.cars import Cars, read_cars
from dualduty.trial.folder import WorkFolder, work_folder_of
from dualduty.trial.gates import read_gates
from dualduty.trial.log_outcome import LogOutcome
from dualduty.trial.results import Written, write_results
from dualduty.trial.run_sheet import read_run_sheet
from dualduty.trial.side_work import SideWork
from dualduty.trial.simulate import Lane, check_modes, simulate
from dualduty.trial.trial import Pair, Trial, read_pair, scorecard_of

discover_measures()  # they are needed anyway; loading them is not the trial's time

MOST_LISTED = 12
OUTCOME = "dualduty.trial.log_outcome:log_outcome"


def run(given: dict[str, Any], times: dict[str, float], side: SideWork) -> int:
    """Simulate, replay, compare, write; 1 when a gate is crossed."""
    with stopwatch(times, "reading"):
        plug_ins = discover(given["plugins"])
        work = WorkFolder(given["folder"] or Path())
        candidate = work.calibration(given["candidate"])
        work = work_folder_of(candidate, given["folder"])
        baseline = work.calibration(given["baseline"]) if given["baseline"] else None
        pair = read_pair(candidate, baseline, plug_ins, other_hardware=bool(given["hardware"]))
        cars = _cars(work, pair, given)
        lane = Lane(
            _sections(work, given),
            check_modes(given["modes"], pair.baseline),
            _seeds(given["seeds"]),
            sensors_given(given["sensors"], given["faults"]),
            given["driver_trim"],
        )
        suffix = f"_on_{cars.overlay.file.stem}" if cars.overlay else ""
        target = given["out"] or Path("results") / f"{candidate.stem}{suffix}"
        check_result_folder(target)
        refuse_broken_limits(pair.candidate)
        only_hardware = pair.baseline is pair.candidate  # a log has nothing to say to that
        sheets = [] if given["no_logs"] or only_hardware else work.log_files(given["logs"])
        for path in sheets:
            read_run_sheet(path)  # what is wrong with it is said before anything is driven
        logs = [side.submit(OUTCOME, path, (pair.baseline.file, pair.candidate.file), given["plugins"]) for path in sheets]
        gates = _gates(work, pair)
    trial = _tried(pair, cars, lane, logs, gates, plug_ins, given, times)
    with stopwatch(times, "report"):
        written = write_results(trial, target, side)
    _tell(trial, written)
    for line in trial.put_in:
        console().print(f"put in   {line}", markup=False)
    left_out = len(work.section_files(())) - len(lane.sections)
    if left_out:
        drove = f"driven   {counted(len(lane.sections), 'section')}"
        console().print(f"{drove}; {left_out} more with --all-sections or --section NAME", markup=False)
    return 1 if trial.scorecard.crossed() else 0


def _cars(work: WorkFolder, pair: Pair, given: dict[str, Any]) -> Cars:
    """The vehicle that both drive, the calibration's unless another is named, and the candidate's hardware."""
    file = work.vehicle(given["vehicle"]) if given["vehicle"] else pair.baseline.vehicle_file
    return read_cars(file, given["payload"] or "", work.overlay(given["hardware"]) if given["hardware"] else None)


def _sections(work: WorkFolder, given: dict[str, Any]) -> tuple[Path, ...]:
    """Those named, all, or the everyday ones."""
    if given["sections"] and given["all_sections"]:
        raise BadInput("--all-sections", "can't go with --section; expected one of them")
    named = given["sections"] or given["all_sections"]
    return tuple(work.section_files(given["sections"]) if named else work.everyday_sections())


def _gates(work: WorkFolder, pair: Pair) -> tuple[Gate, ...]:
    path = work.root / "gates.toml"
    if not path.is_file():
        return ()
    return read_gates(path, [section.stem for section in work.section_files(())], pair.baseline.modes)


def _seeds(count: int) -> tuple[int | None, ...]:
    return (None,) if count == 1 else tuple(range(1, count + 1))


def _tried(  # noqa: PLR0913, PLR0917 - what a trial is made of
    pair: Pair,
    cars: Cars,
    lane: Lane,
    logs: list[Future[LogOutcome]],
    gates: Any,
    plug_ins: PlugIns,
    given: dict[str, Any],
    times: dict[str, float],
) -> Trial:
    both = (pair.baseline, pair.candidate)
    with stopwatch(times, "sections"), progress("driving sections", quiet=given["quiet"]) as step:

        def told(share: float) -> None:
            _refuse_early(logs)
            step(share)

        simulated = simulate(both, lane, plug_ins, told, cars)
    with stopwatch(times, "waiting for logs"):
        outcomes = tuple(log.result() for log in logs)
    with stopwatch(times, "comparing"):
        scorecard = scorecard_of(simulated, pair, gates, cars)
    return Trial(pair, simulated, scorecard, outcomes, times, lane.put_in, cars)


def _refuse_early(logs: list[Future[LogOutcome]]) -> None:
    """A log that can't be used is told as soon as it is known, not after all sections are driven."""
    for log in logs:
        if log.done():
            log.result()


def _tell(trial: Trial, written: Written) -> None:
    out = console()
    changed = f"{counted(len(written.exported.changes), 'value')} changed"
    out.print(f"{trial.scorecard.candidate} against {trial.scorecard.baseline}: {changed}", markup=False)
    for change in written.exported.changes[:MOST_LISTED]:
        out.print(f"  {change}", markup=False)
    tell_noticed(trial.pair.baseline, trial.pair.candidate)
    if trial.cars and (trial.cars.overlay or trial.cars.payload or trial.cars.file != trial.pair.baseline.vehicle_file):
        for place, line in trial.cars.words():
            out.print(f"  {place}: {line}", markup=False)
    for line in headline(trial.scorecard.to_rows()):
        out.print(line, markup=False)
    out.print(_counts(trial.scorecard))
    moved = [cell for cell in trial.scorecard.cells if cell.verdict in ("worse", "better", "can't tell", "changed")]
    if moved:
        out.print(_cells(moved[:MOST_LISTED]))
    _warn(trial.scorecard)
    out.print(f"report   {written.report}\ntable    {written.exported.table}\nmanifest {written.exported.manifest}", markup=False)
    out.print(f"{simulated(trial.scorecard.stamp)}. {CAUTIONS[0]}", markup=False)


def _warn(scorecard: Scorecard) -> None:
    """Gates that are crossed or could not be looked at, and forces that nobody has measured."""
    for check in scorecard.gates:
        if check.crossed or check.crossed is None:
            console().print(f"gate {'crossed' if check.crossed else 'not checked'}: {check.sentence()}", markup=False)
    for line in extrapolated(scorecard)[:MOST_LISTED]:
        console().print(line, markup=False)


def extrapolated(scorecard: Scorecard) -> list[str]:
    """Where a damper moved faster than it was ever tested, longest first: its force is a guess there."""
    cells = [cell for cell in scorecard.cells if cell.measure.name == "extrapolated_time" and max(cell.baseline, cell.candidate) > 0.0]
    cells.sort(key=lambda cell: -max(cell.baseline, cell.candidate))
    told = "a damper moves faster than it was tested: baseline {:.0f} ms, candidate {:.0f} ms; its force is extrapolated there"
    return [f"{cell.mode}, {cell.section}: {told.format(1e3 * cell.baseline, 1e3 * cell.candidate)}" for cell in cells]


def _counts(scorecard: Scorecard) -> Table:
    counts = scorecard.summary().counts
    shown = [verdict for verdict in next(iter(counts.values())) if any(row[verdict] for row in counts.values())]
    table = Table("drive mode", *shown, box=None, pad_edge=False)
    for mode, row in counts.items():
        table.add_row(mode, *(str(row[verdict]) for verdict in shown))
    return table


def _cells(cells: list[Cell]) -> Table:
    table = Table("verdict", "mode", "section", "measure", "baseline", "candidate", "change", "matters from", box=None, pad_edge=False)
    for cell in cells:
        row = cell.to_row()
        unit = str(row["unit"])
        share = f"{row['change_pct']:+.0f} %" if cell.baseline else say(row["change"], unit)
        before, after, band = (say(row[name], unit) for name in ("baseline", "candidate", "band"))
        table.add_row(cell.verdict, cell.mode, cell.section, cell.measure.label, before, after, share, band)
    return table

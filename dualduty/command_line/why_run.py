"""What `why` does, with everything imported."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Final

import click
from rich.table import Table

from dualduty.attribution import Attribution, explain, moment
from dualduty.attribution.instant import instant
from dualduty.attribution.picture import draw_corner
from dualduty.attribution.table import csv_text
from dualduty.attribution.words import ask_row, parting, sentences
from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.cautions import CAUTIONS, simulated
from dualduty.command_line.console import console, progress
from dualduty.command_line.noticed import tell_noticed
from dualduty.command_line.sensors_given import sensors_given
from dualduty.discovery import PlugIns, discover
from dualduty.errors import BadInput
from dualduty.files import check_result_folder, result_folder, write_text
from dualduty.report.figure_file import write_figure
from dualduty.signals import CORNER_LABELS, CORNERS, ROLES, SIDES
from dualduty.trace import Trace
from dualduty.trial.cars import Cars, read_cars
from dualduty.trial.clock import DT, Progress
from dualduty.trial.folder import WorkFolder, work_folder_of
from dualduty.trial.logs import replay_run
from dualduty.trial.run_sheet import read_run_sheet
from dualduty.trial.simulate import Lane, check_modes, simulate
from strategies.controller import Strategy

BEFORE: Final = 0.6  # share of the window that lies before the moment


@dataclass(frozen=True)
class _Runs:
    """The calibrations asked about, the one in question first, each with the run it made."""

    calibrations: tuple[Calibration, ...]
    traces: tuple[Trace, ...]


def run(given: dict[str, Any]) -> None:
    """Run, find the moment, explain it, write pictures and tables, say it."""
    corners = sorted({corner for place in given["corners"] for corner in ROLES[place.replace("-", "_")]}) or range(len(CORNERS))
    sides = SIDES if given["side"] == "both" else (given["side"],)
    plug_ins = discover(given["plugins"])
    path = WorkFolder(given["folder"] or Path()).calibration(given["calibration"])
    work = work_folder_of(path, given["folder"])
    files = [path, *([work.calibration(given["against"])] if given["against"] else [])]
    calibrations = tuple(read_calibration(file, plug_ins) for file in files)
    tell_noticed(*calibrations)
    section = Path(given["section"] or "").stem
    place = f"{section}_{given['mode']}" if section else given["log"]
    target = given["out"] or Path("results") / f"why_{path.stem}_{Path(place).stem}"
    check_result_folder(target)
    runs = _logged(given, work, calibrations, plug_ins) if given["log"] else _driven(given, work, calibrations, plug_ins)
    at = instant(given["at"], runs.traces[0])
    told = _explained(runs, at, given["window"], plug_ins)
    with result_folder(target) as draft:
        _write(draft, told, at, corners, sides)
    _tell(told, at, corners, sides)
    if given["section"]:
        click.echo(f"{simulated(told[0].stamp)}. {CAUTIONS[0]}")
    click.echo(f"pictures and tables in {target}")


def _logged(given: dict[str, Any], work: WorkFolder, calibrations: tuple[Calibration, ...], plug_ins: PlugIns) -> _Runs:
    log = given["log"]
    sheet = read_run_sheet(Path(log) if Path(log).suffix == ".toml" else work.log_files((log,))[0])
    with progress(f"replaying {sheet.name}", quiet=given["quiet"]) as step:
        replayed = replay_run(sheet, calibrations, plug_ins, progress=step)
    return _Runs(calibrations, replayed.traces)


def _driven(given: dict[str, Any], work: WorkFolder, calibrations: tuple[Calibration, ...], plug_ins: PlugIns) -> _Runs:
    modes = check_modes((given["mode"],), calibrations[0])
    lane = Lane((work.section(given["section"]),), modes, (given["seed"],), sensors_given(given["sensors"], given["faults"]))
    traces = []
    for index, calibration in enumerate(calibrations):
        file = work.vehicle(given["vehicle"]) if given["vehicle"] else calibration.vehicle_file
        overlay = work.overlay(given["hardware"]) if given["hardware"] and index == 0 else None
        cars = read_cars(file, given["payload"] or "", overlay)
        if index == 0 and (overlay or given["payload"] or given["vehicle"]):
            click.echo("\n".join(f"  {place}: {line}" for place, line in cars.words()))
        with progress(f"driving {calibration.name}", quiet=given["quiet"]) as step:
            traces.append(_drive(calibration, lane, plug_ins, cars, step))
    return _Runs(calibrations, tuple(traces))


def _drive(calibration: Calibration, lane: Lane, plug_ins: PlugIns, cars: Cars, step: Progress) -> Trace:
    alone = Cars(cars.file, cars.payload, cars.candidate, cars.candidate)
    trace = simulate([calibration], lane, plug_ins, step, alone).traces[0]
    name = cars.columns([calibration, calibration])[-1]  # says on which hardware
    return replace(trace, header=replace(trace.header, cases=tuple(replace(case, candidate=name) for case in trace.header.cases)))


def _explained(runs: _Runs, at: float, window: float, plug_ins: PlugIns) -> list[Attribution]:
    found = []
    for calibration, trace in zip(runs.calibrations, runs.traces, strict=True):
        lasts = trace.header.dt * sum(chunk.ticks for chunk in trace)
        if not 0.0 <= at <= lasts:
            raise BadInput("--at", f"expected a time within the run, which lasts {lasts:.2f} s, came {at:g} s")
        strategy = Strategy([calibration], [0], plug_ins, DT)
        found.append(explain(trace, strategy, at - BEFORE * window, at + (1.0 - BEFORE) * window, plug_ins=plug_ins))
    return found


def _write(draft: Path, told: list[Attribution], at: float, corners: Sequence[int], sides: tuple[str, ...]) -> None:
    moments = []
    for corner in corners:
        write_figure(draw_corner(told[0], corner, sides, at, told[1] if len(told) > 1 else None), draft / f"{CORNERS[corner]}.png")
        write_text(draft / f"{CORNERS[corner]}.csv", csv_text(told[0], corner, sides))
        for each in told:
            named = {"calibration": each.candidate, "corner": CORNERS[corner]}
            moments += [asdict(moment(each, at, corner, side)) | named for side in sides]
    write_text(draft / "moment.json", json.dumps(moments, indent=2, ensure_ascii=False) + "\n")


def _tell(told: list[Attribution], at: float, corners: Sequence[int], sides: tuple[str, ...]) -> None:
    click.echo(f"{told[0].label}, {told[0].candidate}, at {at:.2f} s")
    for corner in corners:
        for side in sides:
            here = [moment(each, at, corner, side) for each in told]
            first, *more = sentences(here[0])
            click.echo("\n".join([first, *(f"  {line}" for line in more)]))
            if len(here) > 1:
                first, *more = parting(here[0], here[1], told[1].candidate)
                click.echo("\n".join([f"  {first}", *(f"    {line}" for line in more)]))
        console().print(_layers(told[0], at, corner, sides))


def _layers(told: Attribution, at: float, corner: int, sides: tuple[str, ...]) -> Table:
    """All layers of a corner from the topmost down; a star marks the one that decided."""
    table = Table(
        CORNER_LABELS[corner], "acts", *(f"{side} {what}" for side in sides for what in ("open", "asks", "after")), box=None, pad_edge=False
    )
    moments = [moment(told, at, corner, side) for side in sides]
    for index in reversed(range(len(told.layers))):
        cells = []
        for each in moments:
            _, share, asked, after = ask_row(each.asks[index])
            decided = "fallback" if each.fallback else "*"
            cells += [share, asked, f"{after} {decided}" if each.decided.name == told.layers[index].name else after]
        table.add_row(told.layers[index].name, told.layers[index].act, *cells)
    return table

"""What `damper-life` does, with everything imported."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import click
from rich.table import Table

from dualduty.calibration.read import read_calibration
from dualduty.cautions import CAUTIONS, simulated
from dualduty.command_line.console import console, progress
from dualduty.discovery import PlugIns, discover
from dualduty.files import check_result_folder, result_folder, write_text
from dualduty.report.damper_life_picture import draw_lives
from dualduty.report.figure_file import write_figure
from dualduty.trial.cars import read_cars
from dualduty.trial.damper_life import DamperLife, life_of_log, life_of_trace, run_files, vehicle_file_of, window_of
from dualduty.trial.damper_life_rows import csv_text, differences, life_rows, table_cells
from dualduty.trial.folder import WorkFolder, here_or_shipped
from dualduty.trial.run_sheet import RunSheet, read_run_sheet
from dualduty.trial.sameness import driver_file
from dualduty.trial.simulate import Lane, check_modes, simulate
from plant.vehicle import read_vehicle
from replay import damper_life as edges


def run(given: dict[str, Any]) -> None:
    """Count one run or two, write pictures and tables, say it."""
    plug_ins = discover(given["plugins"])
    work = here_or_shipped(given["folder"])
    sheet = read_run_sheet(run_files(given["log"], work))
    target = given["out"] or Path("results") / f"damper_life_{sheet.name}"
    check_result_folder(target)
    lives = [_logged(given, sheet, work, plug_ins)]
    if given["beside"]:
        other = read_run_sheet(run_files(given["beside"], work))
        lives.append(_logged({**given, "start": 0.0, "end": float("inf")}, other, work, plug_ins))
    if given["drive"]:
        lives.append(_driven(given, sheet, work, plug_ins))
    with result_folder(target) as draft:
        write_text(draft / "damper_life.csv", csv_text(lives))
        first = lives[0]
        write_figure(draw_lives(lives, first.dampers.maps, first.car, edges, first.source), draft / "damper_life.png")
    _tell(lives)
    if given["drive"]:
        click.echo(f"{simulated(lives[1].source.rpartition(': ')[2])}. {CAUTIONS[0]}")
    click.echo(f"table and picture in {target}")


def _logged(given: dict[str, Any], sheet: RunSheet, work: WorkFolder, plug_ins: PlugIns) -> DamperLife:
    window = window_of(sheet, given["section"], (given["start"], given["end"]))
    vehicle = read_vehicle(vehicle_file_of(sheet, work, given["vehicle"], plug_ins))
    with progress(f"reading {sheet.name}", quiet=given["quiet"]):
        life = life_of_log(sheet, vehicle, window, given["cut_off"])
    return replace(life, name=f"{sheet.name}, {given['section']}") if given["section"] else life


def _driven(given: dict[str, Any], sheet: RunSheet, work: WorkFolder, plug_ins: PlugIns) -> DamperLife:
    calibration = read_calibration(driver_file(sheet, work), plug_ins)
    cars = read_cars(vehicle_file_of(sheet, work, given["vehicle"], plug_ins))
    lane = Lane((work.section(given["drive"]),), check_modes((given["mode"],), calibration), (None,))
    with progress(f"driving {given['drive']}", quiet=given["quiet"]) as step:
        trace = simulate([calibration], lane, plug_ins, step, cars).traces[0]
    return life_of_trace(trace, cars.baseline, f"{Path(given['drive']).stem}, {given['mode']}, simulated")


def _tell(lives: list[DamperLife]) -> None:
    out = console()
    for life in lives:
        out.print(_table(f"{life.name}: {life.seconds:.1f} s", [table_cells(row) for row in life_rows(life)]))
        for line in (life.source, *life.doubts):
            click.echo(f"  {line}")
    if len(lives) > 1:
        rows = [table_cells(row, signed=True) for row in differences(*lives)]
        out.print(_table("difference, the second less the first", rows))


def _table(title: str, rows: list[list[str]]) -> Table:
    heads = ["share of time %", *(f"{name} m/s" for name in edges.range_names()), "fastest m/s", "beyond map ms", "duty %", "mean W"]
    table = Table(title=title, title_justify="left", box=None, pad_edge=False)
    table.add_column("damper and side")
    for head in heads:
        table.add_column(head, justify="right")
    for cells in rows:
        table.add_row(*cells)
    return table

"""What `duty-grid` does, with everything imported."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import numpy as np

from dualduty.command_line.console import console, counted, progress, stopwatch
from dualduty.errors import BadInput
from dualduty.files import check_result_folder, result_folder
from dualduty.report.duty_grid_picture import SHOWN, draw_duty_grid
from dualduty.report.figure_file import png_bytes
from dualduty.scoring.measure import discover_measures
from dualduty.trial.cars import Cars, read_cars
from dualduty.trial.clock import part_of
from dualduty.trial.duty_grid import DutyGrid, Plan, duty_grid, grid_rows
from dualduty.trial.folder import WorkFolder, here_or_shipped
from dualduty.units import from_si, unit
from plant.section import read_section

discover_measures()  # loading them is not the grid's time


def run(given: dict[str, Any], times: dict[str, float]) -> None:
    """Drive, draw, write."""
    work = here_or_shipped(given["folder"])
    sections = _sections(work, given)
    overlay = work.overlay(given["hardware"]) if given["hardware"] else None
    cars = read_cars(work.vehicle(given["vehicle"]), given["payload"] or "", overlay)
    check_result_folder(given["out"])
    plan = Plan(given["steps"], given["axle"], given["held"] / 100.0)
    with stopwatch(times, "driving"):
        grids = _driven(sections, cars, plan, quiet=given["quiet"])
    with stopwatch(times, "drawing"), result_folder(given["out"]) as draft:
        for grid in grids:
            (draft / f"{grid.section}.png").write_bytes(png_bytes(draw_duty_grid(grid)))
        _write(grids, draft / "duty_grid.csv")
    _tell(grids, cars, given["out"])
    compute = times["driving"] + times["drawing"]
    parts = ", ".join(f"{name} {seconds:.1f}" for name, seconds in times.items())
    console().print(f"compute {compute:.1f} s; {parts}", markup=False)


def _sections(work: WorkFolder, given: dict[str, Any]) -> list[Path]:
    """Those named, all, or the everyday ones."""
    if given["sections"] and given["all_sections"]:
        raise BadInput("--all-sections", "can't go with --section; expected one of them")
    if given["sections"]:
        return [work.section(name) for name in given["sections"]]
    return work.section_files(()) if given["all_sections"] else work.everyday_sections()


def _driven(sections: list[Path], cars: Cars, plan: Plan, *, quiet: bool) -> list[DutyGrid]:
    label = f"{cars.label} with {cars.overlay.name}" if cars.overlay else cars.label
    courses = [read_section(path).build() for path in sections]
    grids = []
    with progress("driving constant duties", quiet=quiet) as step:
        for done, course in enumerate(courses):
            grids.append(duty_grid(cars.candidate, course, label, plan, progress=part_of(step, (done, 1), len(courses))))
    return grids


def _write(grids: list[DutyGrid], path: Path) -> None:
    rows = [row for grid in grids for row in grid_rows(grid)]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def _tell(grids: list[DutyGrid], cars: Cars, folder: Path) -> None:
    out = console()
    for line in cars.lines:
        out.print(f"hardware {line}", markup=False)
    for grid in grids:
        out.print(f"{grid.section}: best at compression/rebound duty", markup=False)
        for name in SHOWN:
            out.print(f"  {_best_words(grid, name)}", markup=False)
    out.print(
        f"wrote    {folder}: {counted(len(grids), 'picture')}, duty_grid.csv ({counted(grids[0].plan.steps ** 2, 'pair')} of duties)",
        markup=False,
    )


def _best_words(grid: DutyGrid, name: str) -> str:
    measure = next(measure for measure in grid.measures if measure.name == name)
    best = grid.best(name)
    if best is None:
        return f"{measure.label}: no pair of duties differs by what matters, or no value"
    values, duties = grid.value(name), 100.0 * grid.plan.duties
    label = unit(measure.said).label
    found, worst = (from_si(float(value), measure.said) for value in (values[best], np.nanmax(values)))
    alike = int(grid.as_good(name).sum()) - 1
    more = f"; {counted(alike, 'other pair')} within what matters" if alike else ""
    return f"{measure.label}: {duties[best[0]]:g}/{duties[best[1]]:g} % gives {found:.3g} {label}, the worst pair {worst:.3g}{more}"

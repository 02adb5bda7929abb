"""What `constant-study` does, with everything imported."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np

from dualduty.calibration.read import read_calibration
from dualduty.cautions import simulated
from dualduty.command_line.console import console, counted, progress, stopwatch
from dualduty.command_line.constant_study_command import AS_BUILT
from dualduty.discovery import discover
from dualduty.report.constants_picture import draw_constants
from dualduty.report.figure_file import write_figure
from dualduty.study.constant_bench import Plan
from dualduty.study.constant_runs import said
from dualduty.study.constant_study import Findings, constant_study
from dualduty.study.constant_words import FRESH, compared, constant_words
from dualduty.study.kept import Kept
from dualduty.study.markdown import check_made, write_made
from dualduty.study.objectives import Objectives, read_objectives
from dualduty.trial.cars import read_cars
from dualduty.trial.folder import WorkFolder, here_or_shipped
from dualduty.trial.simulate import check_modes
from plant.section import Section, read_section
from plant.sensor_file import read_sensors
from plant.sensors import Sensors
from plant.vehicle import Vehicle

KEPT = "constants_kept.json"


def run(given: dict[str, Any], times: dict[str, float]) -> None:
    """Drive, compare, write."""
    work = here_or_shipped(given["folder"])
    check_made(given["out"] / "constants.md", FRESH)
    plug_ins = discover(given["plugins"])
    calibration = read_calibration(work.calibration(given["calibration"]), plug_ins)
    objectives = read_objectives(given["objectives"] or work.root / "objectives.toml")
    seeds = objectives.tuning_seeds if given["tuning"] else objectives.proof_seeds
    sections = _sections(work, given["sections"], objectives)
    check_modes(tuple(dict.fromkeys(objectives.of(section.name).mode for section in sections)), calibration)
    plan = Plan(
        sections, seeds[: given["seeds"]], _vehicles(work, given), check_modes(given["modes"], calibration),
        read_sensors(given["sensors"]) if given["sensors"] else Sensors.typical(), objectives,
    )  # fmt: skip
    plan = _with_steps(plan, given["steps"])
    with stopwatch(times, "driving"), progress("constant duties", quiet=given["quiet"]) as step:
        found = constant_study(calibration, plan, plug_ins, step, Kept.of(given["out"] / KEPT))
    with stopwatch(times, "writing"):
        _write(found, given["out"])
    _tell(found, given["out"])
    console().print(", ".join(f"{name} {seconds:.1f} s" for name, seconds in times.items()), markup=False)


def _sections(work: WorkFolder, named: tuple[str, ...], objectives: Objectives) -> tuple[Section, ...]:
    """Those named, or all that have an objective; BadInput for one that has none."""
    if named:
        for name in named:
            objectives.of(name)
        return tuple(read_section(path) for path in work.section_files(named))
    every = tuple(name for objective in objectives.kinds for name in objective.sections)
    return tuple(read_section(path) for path in work.section_files(every))


def _vehicles(work: WorkFolder, given: dict[str, Any]) -> dict[str, Vehicle]:
    """The vehicle with each kind of valves, by their name."""
    file, payload = work.vehicle(given["vehicle"]), given["payload"] or ""
    overlays = {name: None if name == AS_BUILT else work.overlay(name) for name in given["valves"]}
    labels = {name: Path(name).stem.removeprefix("valves_").replace("_", " ") for name in overlays}
    return {labels[name]: read_cars(file, payload, overlay).candidate for name, overlay in overlays.items()}


def _with_steps(plan: Plan, steps: int | None) -> Plan:
    if steps is None:
        return plan
    duties = [float(duty) for duty in np.linspace(0.0, 1.0, steps)]
    levels = tuple((compression, rebound, compression, rebound) for compression, rebound in product(duties, duties))
    return replace(plan, levels=levels, splits=())


def _write(found: Findings, out: Path) -> None:
    vehicle = next(iter(found.plan.vehicles.values()))
    under = f"{found.calibration.name} on {vehicle.car.name}, {counted(len(found.plan.seeds), 'seed')}; {simulated(vehicle.stamp)}"
    write_made(out / "constants.md", constant_words(found), FRESH)
    write_figure(draw_constants(found, under), out / "constants.png")


def _tell(found: Findings, out: Path) -> None:
    told, draw = console(), found.plan.objectives.draw_within
    told.print(f"best single constant setting: {said(found.single)}, {found.single_values.mean():.3f} over the library", markup=False)
    for lag in found.plan.vehicles:
        own = found.own(lag)
        won, lost = (int((compared(own, found.best, draw) == value).sum()) for value in (-1, 1))
        against = f"better than the section's own best constant on {won} of {len(own)}, worse on {lost}"
        told.print(f"  valves {lag}: {found.calibration.name} {own.mean():.3f}; {against}", markup=False)
    told.print(f"wrote {out}: constants.md, constants.png; {KEPT} keeps what was searched", markup=False)

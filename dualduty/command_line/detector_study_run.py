"""What `detector-study` does, with everything imported."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from dualduty.calibration.read import read_calibration
from dualduty.cautions import simulated
from dualduty.command_line.console import console, progress, stopwatch
from dualduty.discovery import discover
from dualduty.report.figure_file import write_figure
from dualduty.report.trade_off_picture import draw_trade_off
from dualduty.study.detector_study import Findings, Plan, detector_study
from dualduty.study.detector_words import FRESH, MUST, detector_words
from dualduty.study.jump_ladder import jump_ladder
from dualduty.study.markdown import check_made, write_made
from dualduty.study.objectives import read_objectives
from dualduty.study.trade_off import TradeOff
from dualduty.trial.cars import read_cars
from dualduty.trial.folder import WorkFolder, here_or_shipped
from dualduty.trial.simulate import check_modes
from plant.sensor_file import read_sensors
from plant.vehicle import Vehicle


def run(given: dict[str, Any], times: dict[str, float]) -> None:
    """Drive, compare, replay, write."""
    work = here_or_shipped(given["folder"])
    check_made(given["out"] / "detectors.md", FRESH)
    plug_ins = discover(given["plugins"])
    calibration = read_calibration(work.calibration(given["calibration"]), plug_ins)
    seeds = read_objectives(given["objectives"] or work.root / "objectives.toml").proof_seeds
    plan = Plan(
        tuple(work.section_files(given["sections"])),
        jump_ladder(work.section("kicker_jump")) if given["ladder"] else (),
        _vehicles(work, given),
        check_modes(given["modes"], calibration),
        read_sensors(given["sensors"] or work.root / "sensors" / "tired.toml"),
        seeds[: given["seeds"]],
    )
    with stopwatch(times, "driving and replaying"), progress("detectors against truth", quiet=given["quiet"]) as step:
        found, curve = detector_study(calibration, plan, plug_ins, step)
    with stopwatch(times, "writing"):
        _write(found, curve, given["out"])
    _tell(found, given["out"])
    console().print(", ".join(f"{name} {seconds:.1f} s" for name, seconds in times.items()), markup=False)


def _vehicles(work: WorkFolder, given: dict[str, Any]) -> dict[str, Vehicle]:
    """The vehicle with each payload, by label."""
    file = work.vehicle(given["vehicle"])
    cars = [read_cars(file, "" if name == "none" else name) for name in dict.fromkeys(given["payloads"])]
    return {car.label: car.baseline for car in cars}


def _write(found: Findings, curve: TradeOff, out: Path) -> None:
    stamps = dict.fromkeys(simulated(vehicle.stamp) for vehicle in found.plan.vehicles.values())
    under = f"{', '.join(found.plan.vehicles)}; {curve.drives} drives replayed open loop; {'; '.join(stamps)}"
    write_made(out / "detectors.md", detector_words(found, curve), FRESH)
    write_figure(draw_trade_off(curve, under), out / "airborne_trade_off.png")


def _tell(found: Findings, out: Path) -> None:
    told = console()
    told.print(
        f"{found.calibration.name}: {found.drives} drives, {found.minutes:.0f} min, {len(found.plan.vehicles)} vehicles", markup=False
    )
    for state, tally in found.events.tallies.items():
        mine = [one for one in found.events.outcomes if one.state == state]
        missed = sum(one.kind == "missed" for one in mine)
        told.print(
            f"  {state.replace('_', ' ')}: {len(mine)} true, {missed} missed, {tally.false_per_minute:.2g} false per min", markup=False
        )
    must = [one for one in found.touchdowns if one.air_time >= MUST - 1e-9]
    ready = sum(one.prepared and min(one.compression, one.rebound) >= 0 for one in must)
    told.print(f"  landing duty reached before touchdown in {ready} of {len(must)} flights of {1e3 * MUST:.0f} ms and more", markup=False)
    told.print(f"wrote {out}: detectors.md, airborne_trade_off.png", markup=False)

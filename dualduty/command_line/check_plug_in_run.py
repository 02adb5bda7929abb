"""What `check-plug-in` does, with everything imported."""

from __future__ import annotations

import inspect
from collections.abc import Sequence
from pathlib import Path

import click
from rich.table import Table

import strategies
from dualduty.car import Car, read_car
from dualduty.checks import PUBLIC, CheckFailed, rig_for
from dualduty.checks.rig import Rig
from dualduty.command_line.console import console, counted
from dualduty.discovery import Found, PlugIns, discover
from dualduty.each_tick import plan_of
from dualduty.errors import BadInput
from dualduty.shipped import shipped_calibrations
from dualduty.trial.folder import here_or_shipped

OWN = Path(strategies.__file__ or "").resolve().parent


def run(files: Sequence[Path], vehicle: str | None, folder: Path | None) -> int:
    """1 when a check is not kept."""
    files = tuple(dict.fromkeys(files))
    plug_ins = discover(tuple(file for file in files if not file.resolve().is_relative_to(OWN)))
    car = _car(vehicle, folder)
    failed = 0
    for file in files:
        mine = [found for found in plug_ins.by_name.values() if found.source.resolve() == file.resolve()]
        if not mine:
            raise BadInput(file, "expected a Python file with a law, a detector or an estimator, found none in it")
        failed += sum(_checked(found, plug_ins, car) for found in mine)
    return 1 if failed else 0


def _car(vehicle: str | None, folder: Path | None) -> Car:
    """The vehicle whose numbers parameters may take; the demo's where none is named."""
    return read_car(here_or_shipped(folder).vehicle(vehicle) if vehicle else shipped_calibrations() / "vehicles" / "marram.toml")


def _checked(found: Found, plug_ins: PlugIns, car: Car) -> int:
    """Number of checks that are not kept; each is told."""
    plan = plan_of(found.cls)
    if plan is not None:
        _ = plan.loop  # compiled first: a fault of the text is no check that failed
    rig = rig_for(found, plug_ins, car)
    table = Table("check", "", "what it looks at", box=None, pad_edge=False)
    problems = []
    for name, check in PUBLIC.items():
        problem = _problem(rig, name)
        problems += [f"{name}: {problem}"] if problem else []
        table.add_row(name, "NOT KEPT" if problem else "kept", (inspect.getdoc(check) or "").split(":")[0].split("\n")[0].rstrip("."))
    gives = ", ".join(given.name for given in found.gives) or f"a {found.returns.lower()}"
    click.echo(f"{found.kind} {found.name}: reads {', '.join(found.reads) or 'nothing'}; gives {gives}")
    console().print(table)
    for problem in problems:
        click.echo(f"not kept: {problem}")
    click.echo(f"{counted(len(PUBLIC) - len(problems), 'check')} kept, {len(problems)} not. {_next(found, problems)}")
    return len(problems)


def _problem(rig: Rig, name: str) -> str:
    try:
        PUBLIC[name](rig)
    except CheckFailed as failure:
        return str(failure)
    return ""


def _next(found: Found, problems: Sequence[str]) -> str:
    if problems:
        return f"Look into {found.source.name}."
    use = f'a layer with law = "{found.name}"' if found.kind == "law" else f"what reads {found.gives[0].name}"
    return f"Next: {use} in a calibration, then dualduty try CANDIDATE --plugin {found.source.name}"

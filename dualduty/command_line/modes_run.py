"""What the command `modes` does: find the vehicle, linearise it at each duty, print and draw."""

from __future__ import annotations

import difflib
from pathlib import Path

import click
import numpy as np
from rich.table import Table

from dualduty.cautions import simulated
from dualduty.command_line.console import console, told_when_compiling
from dualduty.errors import BadInput
from dualduty.trial.folder import WorkFolder, here_or_shipped

Duty = tuple[float, float]
LEAST_SPEED = 3.0  # m/s; below it there is no steady drive to speak of, and a vehicle on a rig is meant


def read_duties(said: str | None, usual: tuple[float, ...]) -> list[Duty]:
    """Pairs of compression and rebound duty, 0..1, from "25" or "25/50" in %."""
    if said is None:
        return [(0.01 * duty, 0.01 * duty) for duty in usual]
    try:
        parts = [float(part) for part in said.split("/")]
    except ValueError:
        parts = []
    if len(parts) not in {1, 2} or not all(0.0 <= part <= 100.0 for part in parts):  # noqa: PLR2004 - per cent; NaN is no duty either
        raise BadInput("--duty", f"expected a duty or compression/rebound in %, such as 25 or 25/50, came {said!r}")
    return [(0.01 * parts[0], 0.01 * parts[-1])]


def find_vehicle(said: str, work: WorkFolder) -> Path:
    """A vehicle file by path, or by name within the folder's vehicles."""
    path = Path(said)
    if path.is_file():
        return path
    inside = work.root / "vehicles" / f"{said}.toml"
    if inside.is_file():
        return inside
    known = sorted(file.stem for file in inside.parent.glob("*.toml"))
    near = difflib.get_close_matches(path.stem, known, n=1)
    hint = f"; did you mean {near[0]!r}?" if near else (f"; known: {', '.join(known)}" if known else "")
    raise BadInput(said, f"expected a vehicle file or the name of one in {inside.parent}{hint}")


def show_modes(said: str, folder: Path | None, duties: list[Duty], at: tuple[float, float], out: Path | None) -> None:
    """Table of modes at `at`, a speed and an amplitude of shaft speed [m/s], and pictures into a folder."""
    path = find_vehicle(said, here_or_shipped(folder))
    with told_when_compiling({}):
        from plant.linearise import linearise
        from plant.modes import modes
        from plant.operating_point import steady_point
        from plant.vehicle import read_vehicle
    vehicle = read_vehicle(path)
    if np.any(vehicle.series_rate > 0.0):
        vehicle = vehicle.overlay(series_rate=0.0)
        click.echo("what yields in series with the dampers is taken as rigid here", err=True)
    speed, amplitude = at
    speed = speed if speed >= LEAST_SPEED else 0.0
    linears = [linearise(steady_point(vehicle, speed, np.repeat(duty, 4)), amplitude) for duty in duties]
    found = [modes(linear) for linear in linears]
    printer = console()
    printer.print(f"{vehicle.car.name} at {speed * 3.6:.0f} km/h, dampers and friction as at {amplitude:g} m/s of shaft speed:"
                  " undamped frequency [Hz], damping ratio [1]", markup=False)  # fmt: skip
    table = Table(box=None, pad_edge=False)
    table.add_column("duty, compression/rebound [%]")
    for mode in found[0]:
        table.add_column(mode.name, justify="right")
    for duty, row in zip(duties, found, strict=True):
        table.add_row(label(duty), *(f"{mode.natural_hz:.2f}  {mode.damping_ratio:.2f}" for mode in row))
    printer.print(table)
    printer.print(f"{simulated(vehicle.stamp)}; linear", markup=False)
    if out is not None:
        from dualduty.report.modes_picture import write_modes, write_transmissibility

        labels = [label(duty) for duty in duties]
        title = f"{vehicle.car.name}, {speed * 3.6:.0f} km/h, dampers as at {amplitude:g} m/s of shaft speed"
        click.echo(f"wrote {write_modes(out / 'modes.png', title, labels, found)}")
        click.echo(f"wrote {write_transmissibility(out / 'transmissibility.png', title, labels, linears)}")


def label(duty: Duty) -> str:
    """Compression/rebound in %."""
    return f"{100 * duty[0]:.0f}/{100 * duty[1]:.0f}"

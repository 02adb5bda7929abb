"""What the command `fit` does: read, fit, print, predict, print, and write where asked."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.table import Table

from dualduty.command_line.console import console, progress, told_when_compiling
from dualduty.errors import BadInput
from dualduty.shipped import shipped_calibrations

if TYPE_CHECKING:
    from dualduty.fit.predict import Change
    from dualduty.fit.solve import Fit


def run_fit(file: Path, folder: Path, unseen: tuple[str, ...], sections: Path | None, *, write: bool, quiet: bool) -> None:
    """Fit, predict and print; with `write` the vehicle's file gets what was found."""
    with told_when_compiling({}):
        from dualduty.fit.numbers import numbers_of
        from dualduty.fit.predict import predict, stamp_of
        from dualduty.fit.runs import read_runs
        from dualduty.fit.solve import fit, fitted_vehicle
        from dualduty.fit.stamp_file import write_fit
        from plant.vehicle import read_vehicle
    vehicle = read_vehicle(file)
    if vehicle.stamp != "not compared":
        raise BadInput(file, f"has a fit already ({vehicle.stamp}); take its [fit] out, since a fit starts from what was measured")
    runs = read_runs(folder, vehicle.car.name, unseen)
    with progress(f"fitting {vehicle.car.name}", quiet=quiet) as step:
        found = fit(vehicle, [run for run in runs if not run.unseen], step)
    show_estimates(found)
    changes = predict(fitted_vehicle(found), runs, sections or shipped_calibrations() / "sections")
    show_changes(changes)
    stamp = stamp_of(vehicle.car.name, len(found.runs), changes)
    console().print(f"\nstamp: {stamp}", markup=False)
    if write:
        write_fit(file, numbers_of(found), stamp)
        click.echo(f"wrote [fit] of {file}")


def show_estimates(found: Fit) -> None:
    """Estimates with their intervals, and what the runs said nothing of."""
    from dualduty.fit.solve import MOVED

    table = Table(box=None, pad_edge=False)
    for title in ("unknown", "before", "after", "95 % interval", "spread after/before", "before is from"):
        table.add_column(title, justify="left" if title in {"unknown", "before is from"} else "right")
    for name, each in found.estimates.items():
        size, unit = each.unknown.factor, "" if each.unknown.said == "1" else f" {each.unknown.said}"
        low, high = each.interval
        table.add_row(name, f"{each.unknown.mean * size:.4g}{unit}", f"{each.value * size:.4g}{unit}", f"{low * size:.4g} .. {high * size:.4g}",
                      f"{each.told:.2f}", each.unknown.source)  # fmt: skip
    printer = console()
    printer.print(f"{found.vehicle.car.name}, fitted to {len(found.runs)} runs; {found.left_out:.0%} of the samples lie near a stop and are left out")
    printer.print(table)
    silent = [name for name, each in found.estimates.items() if each.told > MOVED]
    printer.print(f"hardly observable in these runs (spread stays above {MOVED:.0%} of what it was): {', '.join(silent) or 'none'}", markup=False)
    printer.print("taken together only: lift of tyres, brakes and engine; friction's shape; what stops and zones do", markup=False)


def show_changes(changes: Sequence[Change]) -> None:
    """Measured against predicted changes, by section."""
    printer = console()
    if not changes:
        printer.print("\nno run was kept from the fit: nothing predicted")
        return
    table = Table(box=None, pad_edge=False)
    for title in ("section", "measure", "duties", "measured", "predicted", "scatter over grounds", "error", "sign"):
        table.add_column(title, justify="left" if title in {"section", "measure", "duties", "sign"} else "right")
    words = {True: "right", False: "WRONG", None: "too small to say"}
    for each in changes:
        table.add_row(each.section, each.measure, f"{each.before} to {each.after}", f"{each.measured:+.1f} %", f"{each.predicted:+.1f} %",
                      f"{each.scatter:.1f}", f"{each.error:+.1f} points", words[each.sign_right])  # fmt: skip
    printer.print("\nruns the fit has not seen, change of what the logger measures:")
    printer.print(table)

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


def run_fit(  # noqa: PLR0913 - the command's options
    file: Path, folder: Path, unseen: tuple[str, ...], sections: Path | None, out: Path | None, *, write: bool, quiet: bool
) -> None:
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
    if out is not None:
        from dualduty.report.fit_picture import write_fit_picture

        click.echo(f"wrote {write_fit_picture(out / 'fit.png', found, changes)}")
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
        numbers = (f"{each.unknown.mean * size:.4g}{unit}", f"{each.value * size:.4g}{unit}", f"{low * size:.4g} .. {high * size:.4g}")
        table.add_row(name, *numbers, f"{each.told:.2f}", each.unknown.source)
    printer = console()
    left_out = f"{found.left_out:.0%} of the samples lie near a stop or a run's end and are left out"
    printer.print(f"{found.vehicle.car.name}, fitted to {len(found.runs)} runs; {left_out}")
    printer.print(table)
    silent = [name for name, each in found.estimates.items() if each.told > MOVED]
    printer.print(f"hardly observable in these runs (spread above {MOVED:.0%} of before): {', '.join(silent) or 'none'}", markup=False)
    printer.print("not looked for: tyres, brakes and engine, friction's shape, stops, zones, hysteresis of the valves", markup=False)


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
    for section in dict.fromkeys(each.section for each in changes):
        here = [each for each in changes if each.section == section]
        printer.print(f"{section}: {overall(here)}", markup=False)
    printer.print(f"overall: {overall(changes)}", markup=False)


def overall(changes: Sequence[Change]) -> str:
    """Errors of some changes in one line."""
    errors = sorted(abs(each.error) for each in changes)
    signs = [each.sign_right for each in changes if each.sign_right is not None]
    scatter = sum(each.scatter for each in changes) / len(changes)
    middle = f"half of the errors below {errors[len(errors) // 2]:.1f} points, worst {errors[-1]:.1f}"
    return f"{middle}; sign right {sum(signs)} of {len(signs)}; other ground of the same kind scatters by {scatter:.1f}"

"""Fit a vehicle to logged runs at known duties, and predict runs that the fit has not seen."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line.options import FILE, quiet


@click.command(help="Fit one vehicle (its file, with dyno sheets) to logged runs at known duties: masses, springs, dampers, valve lag and "
                    "sensor offsets with intervals; then predict the runs the fit has not seen.")  # fmt: skip
@click.option("--vehicle", required=True, type=FILE, help="this vehicle's file")
@click.option("--runs", required=True, type=FILE, help="folder with runs.toml and its logs")
@click.option("--unseen", multiple=True, metavar="NAME", help="keep this run from the fit; may be repeated; default: as runs.toml says")
@click.option("--sections", type=FILE, help="folder of section files; default: the shipped ones")
@click.option("--out", type=FILE, help="folder for fit.png")
@click.option("--write", is_flag=True, help="write [fit] with its stamp into the vehicle's file")
@quiet
def command(  # noqa: PLR0913 - its options
    vehicle: Path, runs: Path, unseen: tuple[str, ...], sections: Path | None, out: Path | None, write: bool, quiet: bool
) -> None:
    """Print estimates and predictions."""
    from dualduty.command_line.fit_run import run_fit

    run_fit(vehicle, runs, unseen, sections, out, write=write, quiet=quiet)

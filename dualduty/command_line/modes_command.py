"""Modes of a vehicle over duty, and what of the ground comes through."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line.options import FILE, Within, this_folder

DUTIES = (0.0, 25.0, 50.0, 75.0, 100.0)


@click.command(help="Small motions of VEHICLE (a vehicle file, or its name among the calibrations; default: marram): frequency and damping "
                    "ratio of heave, pitch, roll and wheel hop over duty, and what of the ground reaches seat and tyres.")  # fmt: skip
@click.argument("vehicle", required=False, default="marram")
@click.option("--duty", metavar="C[/R]", help="one duty, or compression/rebound, in %; default: 0, 25, 50, 75, 100")
@click.option("--speed-km-h", type=Within(0.0, 250.0), default=50.0, show_default=True, help="driving speed")
@click.option("--shaft-speed-m-s", type=Within(0.0, 5.0, min_open=True), default=0.2, show_default=True,
              help="amplitude of shaft speed for which dampers and friction count")  # fmt: skip
@click.option("--out", type=FILE, help="folder for modes.png and transmissibility.png")
@this_folder
def command(vehicle: str, duty: str | None, speed_km_h: float, shaft_speed_m_s: float, out: Path | None, folder: Path | None) -> None:
    """Print a table; write two pictures where asked."""
    from dualduty.command_line.modes_run import read_duties, show_modes

    show_modes(vehicle, folder, read_duties(duty, DUTIES), (speed_km_h / 3.6, shaft_speed_m_s), out)

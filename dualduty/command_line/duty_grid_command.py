"""What the hardware can give: constant duties, electronics off."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from dualduty.command_line import options


@click.command(help="Drive sections with constant compression and rebound duties (electronics off), each pair, and draw maps "
                    "of comfort, travel, stops, tyre load and roll over both: what this hardware can give, and where.")  # fmt: skip
@options.section
@click.option("--all-sections", is_flag=True, help="every section of the folder, not only those marked everyday")
@click.option("--vehicle", metavar="VEHICLE", default="marram", show_default=True, help="vehicle type or one vehicle (file, or name)")
@options.payload
@click.option("--hardware", metavar="OVERLAY", help="hardware overlay (file, or name in vehicles/overlays)")
@click.option("--steps", type=click.IntRange(2, 11), default=5, show_default=True, help="duties from 0 to 100 % on each side")
@click.option("--axle", type=click.Choice(["both", "front", "rear"]), default="both", show_default=True, help="which axle's duties move")
@click.option("--held", type=options.Within(0.0, 100.0), default=30.0, show_default=True, help="duty of the other axle, %")
@click.option("--out", type=options.FILE, default=Path("results/duty_grid"), show_default=True, help="result folder")
@options.this_folder
@options.quiet
def command(**given: Any) -> None:
    """Write a picture per section and one CSV."""
    from dualduty.command_line.console import told_when_compiling

    times: dict[str, float] = {}
    with told_when_compiling(times):
        from dualduty.command_line import duty_grid_run
    duty_grid_run.run(given, times)

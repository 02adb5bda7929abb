"""Detectors against truth, over the whole library."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from dualduty.command_line import options


@click.command(help="Drive the whole section library, and a ladder of jumps, in every drive mode with vehicles that are not the "
                    "nominal one; compare every detection with the truth; replay the trade-off of the flight detector; write "
                    "detectors.md and a picture.")  # fmt: skip
@options.study_calibration
@options.section
@options.mode
@options.study_vehicle
@click.option("--payload", "payloads", multiple=True, metavar="NAME", default=("none", "two_in_the_back"), show_default=True,
              help="a payload of the vehicle's file, or none; may be repeated, each is a vehicle of its own")  # fmt: skip
@click.option("--sensors", type=options.FILE, help="sensors file; default: sensors/tired.toml of the folder")
@click.option("--objectives", type=options.FILE, help="file with the seeds; default: objectives.toml of the folder")
@options.study_seeds
@click.option("--ladder/--no-ladder", default=True, show_default=True, help="drive a ladder of jumps as well")
@click.option("--out", type=options.FILE, default=Path("results/detector_study"), show_default=True,
              help="folder; a detectors.md that is there is written anew only between its markers")  # fmt: skip
@options.this_folder
@options.plugin
@options.quiet
def command(**given: Any) -> None:
    """Write the document and the picture."""
    from dualduty.command_line.console import told_when_compiling

    times: dict[str, float] = {}
    with told_when_compiling(times):
        from dualduty.command_line import detector_study_run
    detector_study_run.run(given, times)

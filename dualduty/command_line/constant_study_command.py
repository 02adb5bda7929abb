"""The strategy against the best constant duties of hindsight."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from dualduty.command_line import options

AS_BUILT = "as-built"


@click.command(help="Drive every section with every constant setting of a grid (electronics off) and with a calibration, at several "
                    "valve lags; compare by the objectives written down before anything was tuned; write constants.md and a "
                    "picture.")  # fmt: skip
@options.study_calibration
@options.section
@options.mode
@options.study_vehicle
@options.payload
@click.option("--valves", "valves", multiple=True, metavar="OVERLAY", default=(AS_BUILT, "valves_fast", "valves_slow"), show_default=True,
              help=f"hardware overlay with other valves, or {AS_BUILT}; may be repeated, the first is the one judged")  # fmt: skip
@click.option("--sensors", type=options.FILE, help="sensors file of the calibration's drives; default: typical ones")
@click.option("--objectives", type=options.FILE, help="objectives file; default: objectives.toml of the folder")
@options.study_seeds
@click.option("--steps", type=click.IntRange(2, 11), help="duties from 0 to 100 % on each side, in place of the usual grid")
@click.option("--tuning", is_flag=True, help="drive with the tuning seeds: for whoever tunes, not for a proof")
@click.option("--out", type=options.FILE, default=Path("results/constant_study"), show_default=True,
              help="folder; a constants.md that is there is written anew only between its markers")  # fmt: skip
@options.this_folder
@options.plugin
@options.quiet
def command(**given: Any) -> None:
    """Write the document and the picture."""
    from dualduty.command_line.console import told_when_compiling

    times: dict[str, float] = {}
    with told_when_compiling(times):
        from dualduty.command_line import constant_study_run
    constant_study_run.run(given, times)

"""Where each damper lived."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from dualduty.command_line import options

HELP = """Say where the dampers lived in LOG (a run file, or its name in the working folder): how long at which shaft speed and
travel, on which side, at which force, and what power they turned into heat. Speed comes from the raw travels with hindsight, force
from the damper's map at the logged duty. With --beside a second log, or with --drive a simulated section, next to it."""


@click.command(help=HELP)
@click.argument("log")
@click.option("--from", "start", type=options.Within(0.0), default=0.0, metavar="SECONDS", help="start of the window")
@click.option("--to", "end", type=options.Within(0.0), default=float("inf"), metavar="SECONDS", help="end of the window")
@click.option("--section", metavar="NAME", help="the window is this section, as the run file names it")
@click.option("--beside", metavar="LOG2", help="a second log next to it; --section holds for both, --from and --to for the first")
@click.option("--drive", metavar="SECTION", help="a simulated section next to it, driven with the calibration that drove the log")
@click.option("--mode", metavar="NAME", help="drive mode of --drive")
@click.option("--cut-off", type=options.Within(2.0, 200.0), default=40.0, show_default=True, metavar="HZ", help="of the shaft speed")
@click.option("--vehicle", metavar="VEHICLE", help="vehicle (file, or name in the folder) of both; default: the one the run file names")
@options.this_folder
@click.option("--out", type=options.FILE, help="result folder; default: results/damper_life_LOG")
@options.plugin
@options.quiet
def command(**given: Any) -> None:
    """Read, count, draw, tell."""
    from dualduty.command_line.console import told_when_compiling

    if given["end"] <= given["start"]:
        raise click.UsageError(f"--to {given['end']:g} s is not after --from {given['start']:g} s")
    if given["section"] is not None and (given["start"] > 0.0 or given["end"] < float("inf")):
        raise click.UsageError("expected --section, or --from and --to, not both")
    if given["beside"] is not None and given["drive"] is not None:
        raise click.UsageError("expected --beside or --drive, not both")
    if (given["drive"] is None) != (given["mode"] is None):
        raise click.UsageError("--drive and --mode go together")
    with told_when_compiling({}):
        from dualduty.command_line.damper_life_run import run

    path = Path(given["log"])
    if given["folder"] is None and path.suffix == ".toml" and path.is_file():
        given["folder"] = path.resolve().parent.parent
    run(given)

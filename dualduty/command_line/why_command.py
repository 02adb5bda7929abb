"""Who asked for what at one moment, and who decided."""

from __future__ import annotations

from typing import Any

import click

from dualduty.command_line import options

PLACES = ("front-left", "front-right", "rear-left", "rear-right", "front", "rear", "left", "right")


HELP = """Say why a corner has the duty it has: which layer of CALIBRATION asked for what at one moment, which decided and since when,
what opened it, and what it reads that should not be trusted. Of a recorded log (--log), or of a simulated section (--section
with --mode). Writes a picture and a table of the window for each corner."""
WHEN = "seconds, or the onset of a state and an offset in seconds: touchdown+0.2, cornering, landing#2-0.1"
WHERE = "a corner (rear-left), an axle (rear) or a side of the car (left); may be repeated; default: all four corners"


@click.command(help=HELP)
@click.argument("calibration")
@click.option("--at", required=True, metavar="WHEN", help=WHEN)
@click.option("--corner", "corners", multiple=True, type=click.Choice(PLACES), metavar="CORNER", help=WHERE)
@click.option("--side", type=click.Choice(["compression", "rebound", "both"]), default="both", show_default=True, help="side of the damper")
@click.option("--log", metavar="NAME", help="a recorded run: its run file, or its name in the working folder")
@click.option("--section", metavar="NAME", help="a simulated section")
@click.option("--mode", metavar="NAME", help="drive mode of the section")
@click.option("--seed", type=click.IntRange(1), help="seed of the section's ground; default: the section's own")
@click.option("--against", metavar="CALIBRATION", help="a second calibration over the same ground, at the same time")
@click.option(
    "--window", type=options.Within(0.02, 120.0), default=1.6, show_default=True, metavar="SECONDS", help="length of what is drawn"
)
@click.option("--hardware", metavar="OVERLAY", help="hardware overlay (file, or name in vehicles/overlays) under CALIBRATION only")
@options.vehicle
@options.payload
@click.option("--sensors", type=options.FILE, help="sensors file: errors by channel; default: typical ones")
@click.option("--faults", type=options.FILE, help="faults file: gaps, stuck, spikes, drifts, swapped corners, power lost")
@options.folder
@click.option("--out", type=options.FILE, help="result folder; default: results/why_CALIBRATION_SECTION_MODE or _LOG")
@options.plugin
@options.quiet
def command(**given: Any) -> None:
    """Run, run again with a record, draw, tell."""
    from dualduty.command_line.console import told_when_compiling

    if (given["log"] is None) == (given["section"] is None):
        raise click.UsageError("expected either --log or --section, and one of them")
    simulated_only = [name for name in ("mode", "seed", "hardware", "vehicle", "payload", "sensors", "faults") if given[name] is not None]
    if given["log"] is not None and simulated_only:
        raise click.UsageError(f"--{simulated_only[0]} goes with --section; a log was driven as it was")
    if given["section"] is not None and given["mode"] is None:
        raise click.UsageError("--section needs --mode")
    with told_when_compiling({}):
        from dualduty.command_line.why_run import run

    run(given)

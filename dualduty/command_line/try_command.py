"""The main job."""

from __future__ import annotations

import importlib
import time
from typing import Any

import click

from dualduty.command_line import options


@click.command(help="Try CANDIDATE (a calibration file, or its name in the working folder) against its baseline: everyday sections in "
                    "every drive mode, and every recorded log; writes report, pictures, scorecard, table and manifest.")  # fmt: skip
@click.argument("candidate")
@options.baseline
@options.folder
@options.section
@click.option("--all-sections", is_flag=True, help="every section of the folder, not only those marked everyday")
@options.mode
@options.log
@click.option("--no-logs", is_flag=True, help="sections only")
@click.option(
    "--seeds",
    type=click.IntRange(1, 50),
    default=1,
    show_default=True,
    help="repeat random sections with this many seeds: shows what is noise",
)
@click.option("--hardware", metavar="OVERLAY", help="hardware overlay (file, or name in vehicles/overlays) on the candidate's vehicle only")
@options.vehicle
@options.payload
@click.option("--sensors", type=options.FILE, help="sensors file: errors by channel; default: typical ones")
@click.option("--faults", type=options.FILE, help="faults file: gaps, stuck, spikes, drifts, swapped corners, power lost")
@click.option(
    "--driver-trim",
    type=options.Within(-10, 10),
    default=0.0,
    metavar="STEPS",
    help="the driver's trim in all runs: firmer, or softer below 0",
)
@click.option("--out", type=options.FILE, help="result folder; default: results/NAME-OF-CANDIDATE")
@options.plugin
@options.quiet
def command(**given: Any) -> int:
    """Run one trial and say what came of it."""
    from dualduty.command_line.console import told_when_compiling
    from dualduty.trial.side_work import SideWork

    started = time.perf_counter()
    times: dict[str, float] = {}
    with SideWork() as side:
        with told_when_compiling(times):
            importlib.import_module("plant.closed_loop")  # first, since it compiles longest; the helper takes the other end
            from dualduty.command_line import trial_run
        code: int = trial_run.run(given, times, side)
    compute = sum(seconds for name, seconds in times.items() if name not in ("loading", "compiling"))
    parts = ", ".join(f"{name} {seconds:.1f}" for name, seconds in times.items())
    click.echo(f"compute {compute:.1f} s; {parts}; {time.perf_counter() - started:.1f} s in all")
    return code

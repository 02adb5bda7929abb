"""Sweep a detector's parameter, or a pair, over all marked logs."""

from __future__ import annotations

from typing import Any

import click

from dualduty.command_line import options


@click.command(help="Sweep a parameter of a detector of CALIBRATION over all marked logs in one pass: recall, precision, false per minute "
                    "and onset latency over its value, in all drive modes and at all corners alike; the value that is set, and the values "
                    "that keep every limit of detector_gates.toml. PARAMETER is DETECTOR.KEY with the unit of the key, "
                    "as in Airborne.sure_evidence_ms.")  # fmt: skip
@click.argument("calibration")
@click.argument("parameter")
@click.option("--from", "low", type=float, required=True, help="first value, in the unit of the key")
@click.option("--to", "high", type=float, required=True, help="last value")
@click.option("--values", "count", type=click.IntRange(2, 1000), default=25, show_default=True, help="how many values")
@click.option("--and", "second", metavar="PARAMETER", help="sweep a second one with it")
@click.option("--from-2", "low_2", type=float, help="its first value")
@click.option("--to-2", "high_2", type=float, help="its last value")
@click.option("--values-2", "count_2", type=click.IntRange(2, 200), default=15, show_default=True, help="how many of it")
@click.option("--state", default="", metavar="NAME", help="state to judge; default: the marked one of the detector")
@options.log
@click.option("--gates", type=options.FILE, help="limits per state; default: detector_gates.toml of the working folder")
@click.option("--min-sure", type=options.Within(50.0, 100.0), default=50.0, show_default=True, metavar="PCT",
              help="marks less sure than this count neither way")  # fmt: skip
@click.option("--out", type=options.FILE, help="result folder; default: results/sweep_PARAMETER")
@options.folder
@options.plugin
@options.quiet
def command(**given: Any) -> None:
    """Sweep, print where the best values lie, write the picture and the table."""
    from dualduty.command_line.console import told_when_compiling

    with told_when_compiling({}):
        from dualduty.command_line.threshold_sweep_run import run

    run(given)

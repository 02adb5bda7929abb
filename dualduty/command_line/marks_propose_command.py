"""Propose marks."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line import marks_options, options


@click.command(help="Add proposals to the marks of LOG: what the detectors of CALIBRATION say, or with --offline what the whole log "
                    "shows to one who looks at it afterwards, from both sides and without any detector. What is marked already, or was "
                    "rejected, is not proposed again. Without --state: flights, landings, corners, braking, accelerating.")  # fmt: skip
@click.argument("log")
@click.argument("calibration", required=False)
@marks_options.folder
@marks_options.states
@click.option("--offline", is_flag=True, help="look at the whole log afterwards, in place of a calibration's detectors")
@click.option("--vehicle", default="", metavar="VEHICLE", help="whose masses and travels --offline reckons with; default: the run's")
@options.plugin
@options.quiet
def command(  # noqa: PLR0913, PLR0917 - one argument per option
    log: str,
    calibration: str | None,
    folder: Path | None,
    states: tuple[str, ...],
    offline: bool,
    vehicle: str,
    plugins: tuple[Path, ...],
    quiet: bool,
) -> None:
    """Propose."""
    from dualduty.command_line.console import told_when_compiling

    if offline == bool(calibration):
        raise click.UsageError("expected a CALIBRATION, or --offline, and not both" if offline else "expected a CALIBRATION, or --offline")
    with told_when_compiling({}):
        from dualduty.command_line.marks_propose_run import propose_detected, propose_offline

    if offline:
        propose_offline(log, folder, states, vehicle)
    else:
        propose_detected(log, folder, states, calibration or "", plugins, quiet=quiet)

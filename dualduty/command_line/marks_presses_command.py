"""Presses of the driver's marker button."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line import marks_options


@click.command(help="Take in the presses of the driver's marker button in LOG, each as a note; those taken in before are left alone.")
@click.argument("log")
@marks_options.folder
def command(log: str, folder: Path | None) -> None:
    """Presses."""
    from dualduty.command_line.marks_run import take_presses

    take_presses(log, folder)

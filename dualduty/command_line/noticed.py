"""What was noticed while calibrations were read: said once, however many of them share a file."""

from __future__ import annotations

import click

from dualduty.calibration.model import Calibration


def tell_noticed(*calibrations: Calibration) -> None:
    """A line per notice, each once."""
    for line in dict.fromkeys(line for calibration in calibrations for line in calibration.notices):
        click.echo(f"noticed: {line}")

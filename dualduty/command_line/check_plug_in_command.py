"""Put plug-in files through the public checks."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line import options


@click.command(help="Put every law, detector and estimator in FILES through the public checks that hold for any plug-in. "
                    "Exit code 1 when one is not kept.")  # fmt: skip
@click.argument("files", nargs=-1, required=True, type=options.FILE)
@options.vehicle
@options.folder
def command(files: tuple[Path, ...], vehicle: str | None, folder: Path | None) -> int:
    """Check every plug-in of every file."""
    from dualduty.command_line.console import told_when_compiling

    with told_when_compiling({}):
        from dualduty.command_line.check_plug_in_run import run

    return run(files, vehicle, folder)

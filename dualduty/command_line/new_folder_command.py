"""Make a working folder."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line.options import FILE


@click.command(help="Make a working folder NAME with the invented demo: vehicle, calibrations, sections, marked logs.")
@click.argument("name", type=FILE)
def command(name: Path) -> None:
    """Copy the demo data."""
    from dualduty.trial.folder import make_work_folder

    work = make_work_folder(name)
    click.echo(f"made {work.root}: vehicles, strategies, sections, channel maps and logs of the invented Marram")
    click.echo(f"next: cd {work.root}; dualduty try berm_support")

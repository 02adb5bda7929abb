"""Write the maps of a sheet."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line.options import FILE


@click.command(help="Write both force maps of SHEET as CSV, as a vehicle file names them, NAME-OF-SHEET_compression.csv and _rebound.csv.")
@click.argument("sheet", type=FILE)
@click.option("--out", type=FILE, required=True, help="folder to write into; other files in it stay")
def command(sheet: Path, out: Path) -> None:
    """Write two files."""
    from dualduty.command_line.sheets_run import tell_notices
    from dualduty.dyno.map_file import write_sheet_map
    from dualduty.dyno.reading import read_sheet
    from dualduty.signals import SIDES

    read = read_sheet(sheet)
    tell_notices(read.notices)
    for side in SIDES:
        path = out / f"{sheet.stem}_{side}.csv"
        write_sheet_map(path, read, side)
        click.echo(f"wrote {path}")

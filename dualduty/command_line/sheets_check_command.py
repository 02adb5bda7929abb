"""Read sheets and tell what is wrong with them."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line.options import FILE


@click.command(help="Check sheets (files, or folders of them): each damper in a line, every notice, every problem of a refused sheet.")
@click.argument("where", nargs=-1, required=True, type=FILE)
def command(where: tuple[Path, ...]) -> int:
    """2 when a sheet is refused; the others are told all the same."""
    from dualduty.command_line.sheets_run import tell_sheet
    from dualduty.dyno.reading import read_each

    sheets, problems = read_each(where)
    for sheet in sheets:
        tell_sheet(sheet)
    click.echo(f"{len(sheets)} read, {len({problem.where.split(': ')[0] for problem in problems})} refused")
    for problem in problems:
        click.echo(f"dualduty: {problem}", err=True)
    return 2 if problems else 0

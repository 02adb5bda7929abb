"""One damper before and after."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line.options import FILE


@click.command(help="Compare two sheets of one damper, BEFORE and AFTER, and tell what changed beyond repeats and re-mounting.")
@click.argument("before", type=FILE)
@click.argument("after", type=FILE)
@click.option("--out", type=FILE, help="also draw the change into this PNG")
def command(before: Path, after: Path, out: Path | None) -> None:
    """Print what changed."""
    from dualduty.command_line.sheets_run import tell_notices
    from dualduty.dyno.change import change_between
    from dualduty.dyno.reading import read_sheet
    from dualduty.errors import BadInput

    if out is not None and out.suffix != ".png":
        raise BadInput("--out", f"expected the name of a PNG file, came {out.name!r}")
    found = change_between(read_sheet(before), read_sheet(after))
    tell_notices(found.notices)
    for sentence in found.sentences():
        click.echo(sentence)
    if out is not None:
        from dualduty.report.dampers.change_picture import draw_change
        from dualduty.report.figure_file import write_figure

        write_figure(draw_change(found), out)
        click.echo(f"wrote {out}")

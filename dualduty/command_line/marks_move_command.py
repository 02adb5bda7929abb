"""Move a mark."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line import marks_options


@click.command(help="Give the mark NAME of LOG another start or end. Its origin stays, its note says what was moved and by whom.")
@click.argument("log")
@click.argument("name")
@marks_options.folder
@click.option("--start", type=marks_options.SECONDS, metavar="S", help="new start, seconds since the log's first stamp")
@click.option("--end", type=marks_options.SECONDS, metavar="S", help="new end")
@marks_options.who
def command(log: str, name: str, folder: Path | None, start: float | None, end: float | None, who: str) -> None:
    """Move."""
    from dualduty.command_line.marks_run import move_one

    if start is None and end is None:
        raise click.UsageError("expected --start, --end or both")
    move_one(log, folder, name, (start, end), who)

"""Tie a word to a time."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line import marks_options


@click.command(help="Tie TEXT to the time TIME of LOG, seconds since its first stamp. It counts for nothing in a check.")
@click.argument("log")
@click.argument("time", type=marks_options.SECONDS)
@click.argument("text")
@marks_options.folder
@marks_options.who
def command(log: str, time: float, text: str, folder: Path | None, who: str) -> None:
    """Note."""
    from dualduty.command_line.marks_run import add_one
    from replay.marks.mark_edits import note

    if not text.strip():
        raise click.UsageError("expected a text, came nothing")
    add_one(log, folder, note(time, text, who))

"""List and draw the marks of a log."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line import marks_options, options


@click.command(help="List the marks of LOG, and how far people agree where several marked it.")
@click.argument("log")
@marks_options.folder
@marks_options.states
@click.option("--from", "start", type=options.Within(0.0), default=0.0, metavar="SECONDS", help="start of what is shown")
@click.option("--to", "end", type=options.Within(0.0), default=float("inf"), metavar="SECONDS", help="end of what is shown")
@click.option("--out", type=options.FILE, metavar="FILE.png", help="draw them over travels and specific force")
def command(log: str, folder: Path | None, states: tuple[str, ...], start: float, end: float, out: Path | None) -> None:
    """Show."""
    from dualduty.command_line.marks_run import show

    if end <= start:
        raise click.UsageError(f"--to {end:g} s is not after --from {start:g} s")
    show(log, folder, states, (start, end), out)

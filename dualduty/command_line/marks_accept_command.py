"""Take marks for true."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line import marks_options


@click.command(help="Take the marks of LOG that are named for true. Their origin stays.")
@click.argument("log")
@click.argument("names", nargs=-1, metavar="[NAME]...")
@marks_options.folder
@click.option("--all", "every", is_flag=True, help="all that are proposed")
@click.option("--state", default="", metavar="NAME", help="with --all: only of this state")
@marks_options.who
def command(log: str, names: tuple[str, ...], folder: Path | None, every: bool, state: str, who: str) -> None:
    """Accept."""
    from dualduty.command_line.marks_run import judge

    if every == bool(names):
        raise click.UsageError("expected the names of marks, or --all" + (", and not both" if every else ""))
    if state and not every:
        raise click.UsageError("--state goes with --all; a name has its state in it")
    judge("accept", log, folder, names, state=state, who=who)

"""The two commands that judge marks, alike but for what they come to."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line import marks_options


def judging(verb: str, said: str) -> click.Command:
    """A command that does `verb` to the marks named, or to all that are proposed; `said` is its help."""

    @click.command(help=said)
    @click.argument("log")
    @click.argument("names", nargs=-1, metavar="[NAME]...")
    @marks_options.folder
    @click.option("--all", "every", is_flag=True, help="all that are proposed")
    @click.option("--state", default="", metavar="NAME", help="with --all: only of this state")
    @marks_options.who
    def command(log: str, names: tuple[str, ...], folder: Path | None, every: bool, state: str, who: str) -> None:
        """Judge."""
        from dualduty.command_line.marks_run import judge

        if every == bool(names):
            raise click.UsageError("expected the names of marks, or --all" + (", and not both" if every else ""))
        if state and not every:
            raise click.UsageError("--state goes with --all; a name has its state in it")
        judge(verb, log, folder, names, state=state, who=who)

    return command

"""Mark a state by hand."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line import marks_options, options


@click.command(
    help="Mark STATE in LOG from START to END, seconds since the log's first stamp. `watched` is a stretch in which every event was marked."
)
@click.argument("log")
@click.argument("state")
@click.argument("start", type=marks_options.SECONDS)
@click.argument("end", type=marks_options.SECONDS)
@marks_options.folder
@click.option("--where", default="", callback=marks_options.place, help="corner, axle or side; default: the whole vehicle")
@click.option("--sure", default="yes", callback=marks_options.share, metavar="PCT", help="how sure: yes, no, or per cent; default: yes")
@marks_options.who
@click.option("--note", default="", metavar="TEXT", help="a word about it")
@options.plugin
def command(log: str, state: str, start: float, end: float, folder: Path | None, plugins: tuple[Path, ...], **said: str | float) -> None:
    """Add."""
    from dualduty.command_line.marks_run import add_one, check_state
    from replay.marks.mark import Mark

    check_state(state, plugins)
    mark = Mark(state, start, end, str(said["where"]), float(said["sure"]), str(said["who"]), str(said["note"]))
    add_one(log, folder, mark)

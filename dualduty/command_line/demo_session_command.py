"""Make a working folder with marked demo sessions."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line import options


@click.command(
    help="Make a working folder FOLDER, as new-folder does, and drive marked sessions of the invented Marram for it: every kind of section "
    "in each drive mode without a pause, by a car that differs from the nominal one, recorded with faults that are listed beside each log."
)
@click.argument("folder", type=options.FILE)
@click.option(
    "--seed", type=click.IntRange(0, 10**6), default=1, show_default=True, help="of lanes, car, noise, faults; the same, the same files"
)
@click.option(
    "--minutes",
    type=options.Within(2.0, 60.0),
    default=14.5,
    show_default=True,
    help="length of each of the five logs; a round of all sections takes about 8",
)
@click.option("--format", "form", type=click.Choice(["csv", "parquet", "mdf"]), default="csv", show_default=True, help="of the logs")
@click.option("--quick", is_flag=True, help="24 s of each log, for a first look")
@options.quiet
def command(folder: Path, seed: int, minutes: float, form: str, *, quick: bool, quiet: bool) -> None:
    """Drive, record, mark."""
    import time

    from dualduty.command_line.console import progress, told_when_compiling

    times: dict[str, float] = {}
    with told_when_compiling(times):
        from dualduty.command_line.demo_session_told import told
        from dualduty.trial.demo_session.make import Asked, make_demo_sessions
    began = time.perf_counter()
    with progress("driving the sessions", quiet=quiet) as step:
        sessions = make_demo_sessions(folder, Asked(seed, 60.0 * minutes, form, quick), step)
    for line in told(sessions):
        click.echo(line)
    click.echo(f"made {folder} in {time.perf_counter() - began:.0f} s")
    click.echo(f"next: cd {folder}; dualduty check marram_baseline --log session_dash")

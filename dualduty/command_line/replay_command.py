"""Replay one log."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line import options


@click.command(help="Replay LOG (a run file, or its name in the working folder) through CALIBRATION: states, duties, and which layer "
                    "decided, as pictures and in words.")  # fmt: skip
@click.argument("log")
@click.argument("calibration")
@options.folder
@click.option("--from", "start", type=options.Within(0.0), default=0.0, metavar="SECONDS", help="start of the pictures")
@click.option("--to", "end", type=options.Within(0.0), default=float("inf"), metavar="SECONDS", help="end of the pictures")
@click.option("--out", type=options.FILE, help="folder for the pictures; default: results/replay_LOG")
@options.plugin
@options.quiet
def command(  # noqa: PLR0913, PLR0917 - one argument per option
    log: str, calibration: str, folder: Path | None, start: float, end: float, out: Path | None, plugins: tuple[Path, ...], quiet: bool
) -> None:
    """Replay, draw, tell."""
    from dualduty.command_line.console import told_when_compiling

    with told_when_compiling({}):
        from dualduty.command_line.replay_run import run

    if end <= start:
        raise click.UsageError(f"--to {end:g} s is not after --from {start:g} s")
    run(log, calibration, folder, window=(start, end), out=out, plugins=plugins, quiet=quiet)

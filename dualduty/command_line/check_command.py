"""Hold detectors against the marks of recorded logs."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line import options


@click.command(help="Check the detectors of CALIBRATION against the marks of every recorded log: found, missed, false, latency. "
                    "Exit code 1 when a limit of detector_gates.toml is not kept.")  # fmt: skip
@click.argument("calibration")
@options.folder
@options.log
@click.option("--gates", type=options.FILE, help="limits per state; default: detector_gates.toml of the working folder")
@click.option("--out", type=options.FILE, help="also write a picture per log into this folder")
@options.plugin
@options.quiet
def command(  # noqa: PLR0913 - one argument per option
    calibration: str,
    folder: Path | None,
    logs: tuple[str, ...],
    gates: Path | None,
    out: Path | None,
    plugins: tuple[Path, ...],
    quiet: bool,
) -> int:
    """Check every log, print a table each."""
    from dualduty.command_line.console import told_when_compiling

    with told_when_compiling({}):
        from dualduty.command_line.check_run import run

    return run(calibration, folder, logs, gates=gates, out=out, plugins=plugins, quiet=quiet)

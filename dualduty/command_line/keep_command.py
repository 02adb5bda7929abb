"""Keep a fresh log, or run again?"""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line import options

HELP = """Say whether LOG (a run file, its name in the working folder, or a bare log with --map) can be kept: the first line is the
verdict, then the presses of the marker button, then what was found, the worst first: where, how sure, what it does, what to do. The
log is only read. Exit code 1 where the run must be driven again."""


@click.command(help=HELP)
@click.argument("log")
@click.option("--map", "channel_map", metavar="MAP", help="channel map of a bare log (file, or name in the folder)")
@click.option("--sections", type=options.FILE, metavar="FILE.csv", help="sections of the log: name,start_s,end_s")
@click.option("--calibration", metavar="CALIBRATION", help="whose detectors find the sections; default: what drove, or the baseline")
@options.vehicle
@options.this_folder
@click.option("--out", type=options.FILE, help="result folder for health strips (PNG) and findings (JSON); default: none")
@options.plugin
@options.quiet
def command(  # noqa: PLR0913, PLR0917 - one argument per option
    log: str, channel_map: str | None, sections: Path | None, calibration: str | None, vehicle: str | None, folder: Path | None,
    out: Path | None, plugins: tuple[Path, ...], quiet: bool,
) -> int:  # fmt: skip
    """Read, weigh, tell."""
    from dualduty.command_line.console import told_when_compiling

    with told_when_compiling({}):
        from dualduty.command_line.keep_run import run
        from dualduty.trial.folder import WorkFolder, here_or_shipped
        from dualduty.trial.keep import Asked

    path = Path(log)
    beside = path.suffix == ".toml" and path.is_file() and folder is None
    work = WorkFolder(path.resolve().parent.parent) if beside else here_or_shipped(folder)
    return run(Asked(log, work, channel_map, sections, vehicle, calibration), out, plugins, quiet=quiet)

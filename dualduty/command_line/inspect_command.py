"""See what a recorded log holds, which column is which signal, and what is missing for which detector or law."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line import options


@click.command(name="inspect",
               help="Look through LOG, a recording, a folder of them or a log of the working folder by name: channels with rate, range, "
                    "blanks and smallest step; a suggested channel map; what is missing for which detector or law.")  # fmt: skip
@click.argument("log")
@click.option("--map", "channel_map", type=options.FILE, help="say what this channel map finds in it, instead of suggesting one")
@click.option(
    "--write-map", type=options.FILE, metavar="FILE.toml", help="write the suggested map; lines it can't be sure of are commented out"
)
@click.option("--calibration", metavar="CALIBRATION", help="look at the layers of this one; default: every detector and law there is")
@click.option("--out", type=options.FILE, help="also draw the channels, into this folder")
@options.this_folder
@options.plugin
@options.quiet
def command(  # noqa: PLR0913, PLR0917 - one argument per option
    log: str,
    channel_map: Path | None,
    write_map: Path | None,
    calibration: str | None,
    out: Path | None,
    folder: Path | None,
    plugins: tuple[Path, ...],
    quiet: bool,
) -> None:
    """Print the channels, the map and what is missing."""
    if channel_map is not None and write_map is not None:
        raise click.UsageError("expected either --map, a map to try, or --write-map, a map to suggest; came both")
    from dualduty.command_line.console import told_when_compiling

    with told_when_compiling({}):
        from dualduty.command_line.inspect_run import run

    run(log, channel_map, write_map, calibration=calibration, out=out, folder=folder, plugins=plugins, quiet=quiet)

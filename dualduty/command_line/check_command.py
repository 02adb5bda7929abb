"""Hold detectors against the marks of recorded logs."""

from __future__ import annotations

from typing import Any

import click

from dualduty.command_line import options


@click.command(help="Check the detectors of CALIBRATION against the marks of every recorded log: found, missed, false, latency. "
                    "Exit code 1 when a limit of detector_gates.toml is not kept, or a mark of the reference is lost.")  # fmt: skip
@click.argument("calibration")
@options.folder
@options.log
@click.option("--gates", type=options.FILE, help="limits per state; default: detector_gates.toml of the working folder")
@click.option("--reference", type=options.FILE, metavar="FILE.json", help="compare with a check kept before, mark by mark")
@click.option("--keep-reference", type=options.FILE, metavar="FILE.json", help="keep this check for later ones")
@click.option("--junit", type=options.FILE, metavar="FILE.xml", help="also write it for a build server")
@click.option("--out", type=options.FILE, help="also write a page into this folder, with every event that went wrong drawn")
@click.option("--min-sure", type=options.Within(50.0, 100.0), default=50.0, show_default=True, metavar="PCT",
              help="marks less sure than this count neither way")  # fmt: skip
@options.plugin
@options.quiet
def command(calibration: str, **chosen: Any) -> int:
    """Check every log, print a table each."""
    from dualduty.command_line.console import told_when_compiling

    with told_when_compiling({}):
        from dualduty.command_line.check_run import Choices, run

    return run(calibration, Choices(**chosen))

"""Is what is replayed what the vehicle ran?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from dualduty.command_line import options

HELP = """Compare what LOG (a run file, or its name in the working folder) recorded of the vehicle's own controller with a replay of
the calibration that the log names: states and duties, tick by tick, with the time offset between them. With CANDIDATE: where its
duties part most from the logged ones, and which layer made the difference. Exit code 1 where offline claims about the log are not
grounded."""


@click.command(help=HELP)
@click.argument("log")
@click.argument("candidate", required=False)
@click.option("--agree", type=options.Within(0.0, 100.0), default=95.0, show_default=True, metavar="PCT",
              help="share of ticks in which either side must agree")  # fmt: skip
@click.option("--tolerance", type=options.Within(0.0, 100.0), default=1.0, show_default=True, metavar="PCT", help="duty that still agrees")
@click.option("--which", is_flag=True, help="try every calibration of the folder, and rank them by agreement")
@click.option("--window", type=(options.Within(0.0), options.Within(0.0)), metavar="FROM TO", help="seconds: look for partings here only")
@options.this_folder
@click.option("--out", type=options.FILE, help="result folder; default: results/sameness_LOG")
@options.plugin
@options.quiet
def command(window: tuple[float, float] | None, **given: Any) -> int:
    """Replay, compare, draw, tell."""
    from dualduty.command_line.console import told_when_compiling

    with told_when_compiling({}):
        from dualduty.command_line.sameness_run import run

    if window is not None and window[1] <= window[0]:
        raise click.UsageError(f"--window ends at {window[1]:g} s, not after {window[0]:g} s")
    if window is not None and given["candidate"] is None:
        raise click.UsageError("--window goes with CANDIDATE: it is where partings are looked for")
    given["folder"] = _folder_of(given["log"], given["folder"])
    return run({**given, "window": window or (0.0, float("inf"))})


def _folder_of(log: str, chosen: Path | None) -> Path | None:
    """The folder chosen, or the one a run file given by path lies in."""
    path = Path(log)
    return path.resolve().parent.parent if chosen is None and path.suffix == ".toml" and path.is_file() else chosen

"""The command line. Each command lives in a file of its own and imports heavy parts only when it runs."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any, TextIO

import click

from dualduty import __version__
from dualduty.command_line.lazy import LazyGroup

COMMANDS = {
    "new-folder": "make a working folder with the demo vehicle, calibrations, sections and marked logs",
    "demo-session": "make a working folder with long marked demo sessions, driven and recorded with faults",
    "try": "try a candidate against a baseline: sections, drive modes, logs; scorecard, report, table",
    "inspect": "see what a recorded log holds: channels, a suggested channel map, what is missing for which detector or law",
    "keep": "keep a fresh log or run again: verdict, marker presses, what is wrong with it and how sure",
    "replay": "replay a recorded log through a calibration: which layer commanded what, when",
    "why": "why a corner has the duty it has: which layer asked for what at a moment, which decided, since when",
    "check": "check the detectors of a calibration against the marks of recorded logs",
    "marks": "marks of recorded logs: show, propose, accept, reject, move, add, note, button presses",
    "threshold-sweep": "sweep a detector's parameter over all marked logs: recall, false per minute, latency; which values keep the gates",
    "sameness": "is what is replayed what the vehicle ran: logged states and duties against the replayed ones",
    "damper-life": "where each damper lived: time over shaft speed, force map and travel, power into heat; two runs side by side",
    "export": "write a candidate's table and manifest for the vehicle",
    "new": "write a new law, detector or estimator that runs, for you to fill in",
    "check-plug-in": "put a law, detector or estimator through the checks that hold for any",
    "list": "list plug-ins, sections, measures, signals, calibrations or vehicles",
    "sheets": "dyno sheets: check, compare, ask the damper group for a change and check the answer",
    "modes": "modes of a vehicle over duty: heave, pitch, roll, wheel hop; what of the ground comes through",
    "duty-grid": "electronics off: maps of comfort, travel, tyre load and roll over constant duties",
    "detector-study": "detectors against truth over the whole library: latency, false alarms, duty reached before touchdown",
    "constant-study": "the baseline against the best constant duties of hindsight, section by section",
    "fit": "fit one vehicle to logged runs at known duties, and predict runs the fit has not seen",
    "picture": "draw a section: ground, wanted speed, curvature",
}

EXIT_BAD_INPUT = 2
EXIT_INTERRUPTED = 130
EXIT_OUTPUT_CLOSED = 141


@click.group(cls=LazyGroup, commands_offered=COMMANDS, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110})
@click.version_option(__version__, prog_name="dualduty")
def cli() -> None:
    """Offline bench for dampers with two commands each, compression duty and rebound duty.

    Start with: dualduty new-folder marram, then cd marram and dualduty try berm_support.

    Exit codes: 0 done; 1 a gate is crossed or a check failed; 2 something given can't be used; 130 interrupted.
    """


def main() -> None:
    """Run the command line; bad input becomes one clear line on stderr."""
    from concurrent.futures import BrokenExecutor

    from dualduty.errors import BadInput

    _outputs_there()
    try:
        code = _called()
    except click.exceptions.Exit as ended:
        code = ended.exit_code
    except click.ClickException as problem:
        context = problem.ctx if isinstance(problem, click.UsageError) else None
        hint = f" (help: {context.command_path} --help)" if context else ""
        click.echo(f"dualduty: {' '.join(problem.format_message().split())}{hint}", err=True)
        sys.exit(EXIT_BAD_INPUT)
    except BadInput as problem:
        for line in str(problem).splitlines():
            click.echo(f"dualduty: {line}", err=True)
        sys.exit(EXIT_BAD_INPUT)
    except BrokenExecutor:
        click.echo("dualduty: the helper process ended unexpectedly (out of memory?); nothing was written", err=True)
        sys.exit(EXIT_BAD_INPUT)
    except SystemExit as ended:
        sys.exit(_ended(ended))
    except (KeyboardInterrupt, click.Abort):
        click.echo("dualduty: interrupted; nothing was written", err=True)
        exec("")  # noqa: S102 - lets Python forget an interrupt inside a text run by exec, as imports do: it would end by the signal
        sys.exit(EXIT_INTERRUPTED)
    sys.exit(code if isinstance(code, int) else 0)


def _outputs_there() -> None:
    """Outputs that whoever called us has closed, as some schedulers do, take what is written and lose it."""
    sys.stdout = sys.stdout or _nowhere()
    sys.stderr = sys.stderr or _nowhere()


def _called() -> Any:
    """What the command gives back; an output that takes no more, as on a full disk, is BadInput too."""
    from dualduty.errors import BadInput

    try:
        code = cli.main(standalone_mode=False, prog_name="dualduty")  # the same words however it was started
        sys.stdout.flush()
    except OSError as problem:  # of files it is said where they are read and written
        sys.stdout = _nowhere()  # nor is it tried again when Python ends
        if isinstance(problem, BrokenPipeError):
            sys.exit(EXIT_OUTPUT_CLOSED)
        raise BadInput(problem.filename or "output", f"can't be read or written: {problem.strerror or problem}") from None
    return code


def _nowhere() -> TextIO:
    return Path(os.devnull).open("w", encoding="utf-8")


def _ended(ended: SystemExit) -> int:
    """Exit code where something below ended the program: a closed pipe, or a plug-in (none of ours does)."""
    left = "PacifyFlush" in type(sys.stdout).__name__  # click puts it there when it ends over a closed pipe
    if left or isinstance(ended.__context__, BrokenPipeError):  # whoever read the output has seen enough
        return EXIT_OUTPUT_CLOSED
    click.echo(f"dualduty: a plug-in ended the program, sys.exit({ended.code!r}); expected it to raise an error", err=True)
    return EXIT_BAD_INPUT

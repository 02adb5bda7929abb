"""What commands print: progress, tables, and the note that a first run compiles."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

Step = Callable[[float], None]


def console() -> Console:
    """Plain console on standard output; no colour where it is not a terminal."""
    return Console(highlight=False, width=None if sys.stdout.isatty() else 160)


def counted(number: int, word: str) -> str:
    """A number with its word: 1 value, 2 values."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


@contextmanager
def progress(title: str, *, quiet: bool = False) -> Iterator[Step]:
    """A progress bar on stderr; gives a function that takes the share 0..1 that is done."""
    bar = Progress(TextColumn("{task.description:<28}"), BarColumn(), TimeElapsedColumn(), console=Console(stderr=True), transient=False,
                   disable=quiet or not sys.stderr.isatty())  # fmt: skip
    with bar:
        task = bar.add_task(title, total=1.0)
        yield lambda share: bar.update(task, completed=share)
        bar.update(task, completed=1.0)


@contextmanager
def stopwatch(times: dict[str, float], name: str) -> Iterator[None]:
    """Add the time a block takes to `times[name]`. [s]"""
    start = time.perf_counter()
    yield
    times[name] = times.get(name, 0.0) + time.perf_counter() - start


@contextmanager
def told_when_compiling(times: dict[str, float]) -> Iterator[None]:
    """Load what a command needs; where kernels must be compiled, say so before, and afterwards how long it took."""
    from dualduty import kernels

    kernels.before_compiling(lambda: click.echo("first run with these sources: compiling kernels, once ...", err=True))
    before = len(kernels.COMPILED)
    with stopwatch(times, "loading"):
        yield
    if len(kernels.COMPILED) > before:
        times["compiling"] = times.pop("loading")
        click.echo(kernels.compile_note(), err=True)

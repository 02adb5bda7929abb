"""What goes wrong inside a library that reads a file, as one line that names the file."""

from __future__ import annotations

import gc
import logging
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Final, TypeVar

from dualduty.errors import BadInput
from replay.formats.csv_numbers import WrongCell

Item = TypeVar("Item")
_LONGEST: Final = 160  # characters told of what a library says


@contextmanager
def reading(path: Path | str, kind: str) -> Iterator[None]:
    """Whatever a reader raises in this block is BadInput: the file is damaged, cut off, or holds what the reader can't."""
    try:
        with _quiet():
            yield
    except (BadInput, WrongCell):
        raise
    except MemoryError:
        raise BadInput(path, f"is damaged: it asks for more memory than there is; expected a whole {kind} file") from None
    except Exception as error:  # noqa: BLE001 - readers of damaged files raise whatever they come across
        raise BadInput(path, _told(error, kind)) from None


def opened(open_it: Callable[[], Item], path: Path | str, kind: str) -> Item:
    """What `open_it` opens; what a library leaves half open when it fails is thrown away unheard.

    The error is told after it is forgotten: as long as somebody holds it, it holds the half-open file.
    """
    problem = ""
    with _thrown_away_unheard():
        try:
            with _quiet():
                return open_it()
        except Exception as error:  # noqa: BLE001 - as above
            problem = _told(error, kind)
    raise BadInput(path, problem)


@contextmanager
def _thrown_away_unheard() -> Iterator[None]:
    """What is left over at the end is collected here, among the youngest objects only, which takes no time."""
    heard, collecting = sys.unraisablehook, gc.isenabled()
    sys.unraisablehook = _unheard
    gc.disable()
    try:
        yield
        gc.collect(0)
    finally:
        sys.unraisablehook = heard
        if collecting:
            gc.enable()


def _unheard(told: object) -> None:
    """For what goes wrong while a half-open file is thrown away."""


def _told(error: Exception, kind: str) -> str:
    said = str(error).strip().splitlines()[:1]
    told = f"{type(error).__name__}: {said[0][:_LONGEST]}" if said else type(error).__name__
    return f"can't be read as {kind}, it is damaged, cut off or of an unknown kind ({told})"


def each(items: Iterable[Item], path: Path | str, kind: str) -> Iterator[Item]:
    """The items of a reader, one by one; what it raises is BadInput, what is done with them is not looked at."""
    iterator = iter(items)
    while True:
        with reading(path, kind):
            item = next(iterator, None)
        if item is None:
            return
        yield item


def needs(package: str, extra: str, path: Path | str, kind: str) -> None:
    """BadInput when the library that reads this kind of file is not installed."""
    if find_spec(package) is None:
        raise BadInput(path, f"is {kind}; reading it needs the package {package}: pip install 'dualduty[{extra}]'")


@contextmanager
def _quiet() -> Iterator[None]:
    """Readers write to the log what they then raise as well; nobody needs it twice."""
    before = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        yield
    finally:
        logging.disable(before)

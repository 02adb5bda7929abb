"""A second process for what does not wait for the simulation: logs and pictures.

It is started before anything heavy is imported and warms up meanwhile. Where there is one core, work is done in place.
"""

from __future__ import annotations

import importlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing.process import BaseProcess
from types import TracebackType
from typing import Any, Self, TypeVar

T = TypeVar("T")


class InPlace(Executor):
    """Does the work at once, in this process."""

    def submit(self, fn: Callable[..., T], /, *args: Any, **kwargs: Any) -> Future[T]:
        """Run now; the future is done when it comes back."""
        future: Future[T] = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except Exception as error:  # noqa: BLE001 - handed on by the future, as an executor does
            future.set_exception(error)
        return future


class SideWork:
    """A helper process as a context: `submit` work by its place, `module:function`."""

    def __init__(self) -> None:
        self.executor: Executor
        self.helpers: set[BaseProcess] = set()
        if (os.cpu_count() or 1) < 2:  # noqa: PLR2004 - a second core is the point
            self.executor = InPlace()
            return
        context = multiprocessing.get_context("spawn")  # fork would take half-started threads along
        self.executor = ProcessPoolExecutor(1, context)
        before = set(multiprocessing.active_children())
        with _interrupts_ignored():  # the helper takes this along: an interrupt is the main process's to handle
            self.executor.submit(_warm)
        self.helpers = set(multiprocessing.active_children()) - before

    def submit(self, place: str, *arguments: Any) -> Future[Any]:
        """Have `module:function` called with `arguments` in the helper process."""
        return self.executor.submit(_call, place, arguments)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.executor.shutdown(wait=kind is None, cancel_futures=True)
        if kind is not None:
            for helper in self.helpers:  # whatever it works at, nobody waits for it now
                helper.terminate()


@contextmanager
def _interrupts_ignored() -> Iterator[None]:
    if threading.current_thread() is not threading.main_thread():  # only the main thread may say what is ignored
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _warm() -> None:
    """Load, or on a first run compile, what logs need; the main process starts at the other end, with the plant."""
    importlib.import_module("dualduty.trial.log_outcome")
    importlib.import_module("dualduty.discovery").discover()
    importlib.import_module("dualduty.scoring.measure").discover_measures()


def _call(place: str, arguments: tuple[Any, ...]) -> Any:
    module, _, function = place.partition(":")
    return getattr(importlib.import_module(module), function)(*arguments)

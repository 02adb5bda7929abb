"""Work on a sequence in stages beside each other: while one chunk is commanded, the next is sensed, and the one after it read."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from functools import partial
from typing import TYPE_CHECKING, Any, Final, TypeVar

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from dualduty.controller import Controller

Array = NDArray[np.float64]
T = TypeVar("T")
AHEAD: Final = 2  # chunks under way before the one that is handed out
_END: Final = object()


def in_stages(source: Iterable[Any], *stages: Callable[[Any], Any], ahead: int = AHEAD) -> Iterator[Any]:
    """Every item of the source through all stages, in order; the source and each stage run in a thread of their own.

    A stage never runs twice at once, so it may keep a state. What a stage or the source raises is raised here, in its
    turn. At most `ahead` items are under way. It pays where stages let go of the interpreter, as compiled kernels do.
    """
    items = iter(source)
    pools = [ThreadPoolExecutor(1) for _ in range(1 + len(stages))]
    waiting: deque[Future[Any]] = deque()

    def submit() -> None:
        future: Future[Any] = pools[0].submit(next, items, _END)
        for pool, stage in zip(pools[1:], stages, strict=True):
            future = pool.submit(_passed_on, stage, future)
        waiting.append(future)

    try:
        for _ in range(ahead):
            submit()
        while (result := waiting.popleft().result()) is not _END:
            submit()
            yield result
    finally:
        for pool in pools:
            pool.shutdown(wait=True, cancel_futures=True)


def _passed_on(stage: Callable[[Any], Any], before: Future[Any]) -> Any:
    item = before.result()
    return item if item is _END else stage(item)


def controlled(
    controller: Controller, memory: Any, chunks: Iterable[tuple[T, Array, NDArray[np.int16]]], snapshot: Callable[[Any], Any]
) -> Iterator[tuple[T, Any, Any]]:
    """Each chunk's companion, what the controller makes of the chunk, and its memory before it.

    A controller with two stages, `sense(sensed, mode, memory)` and `command(sensed_chunk, memory)`, works on two chunks at
    once while the next is read: the same bits, in the time of the longer stage.

    chunks : iterable of (companion, (row, time, case) array, (1, time, case) int16 array)
        Sensed signals and drive modes; neither is written to. [SI]
    snapshot : function
        How to save a memory that has no stages.
    """
    if not hasattr(controller, "sense") or not hasattr(controller, "command"):
        for companion, sensed, mode in chunks:
            before = snapshot(memory)
            yield companion, controller.run(sensed, mode, memory), before
        return
    for companion, sensed_chunk in in_stages(chunks, partial(_sensed, controller, memory)):
        output, before = controller.command(sensed_chunk, memory)
        yield companion, output, before


def _sensed(controller: Any, memory: Any, chunk: tuple[Any, Array, NDArray[np.int16]]) -> tuple[Any, Any]:
    companion, sensed, mode = chunk
    return companion, controller.sense(sensed, mode, memory)

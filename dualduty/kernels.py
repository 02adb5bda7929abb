"""Compiled kernels: the one way to declare one, with a cache that no edit and no second process can make lie.

The stock cache looks only at the file of the decorated function, so an edited helper in another file would leave
stale numbers behind. Here the cache folder carries a digest of all sources concerned (`kernel_cache`).
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import llvmlite
import numba
import numpy as np
from numba import types
from numba.core.caching import FunctionCache, IndexDataCacheFile

from dualduty.kernel_cache import cache_folder, file_digest, is_empty, sources_digest

CACHE: Final = cache_folder(sources_digest((numba.__version__, llvmlite.__version__, np.__version__)))
IS_COLD: Final = not numba.config.DISABLE_JIT and is_empty(CACHE)  # this run compiles; commands say so beforehand
numba.config.CACHE_DIR = str(CACHE)

IN1: Final = types.Array(types.float64, 1, "C", readonly=True)
IN2: Final = types.Array(types.float64, 2, "C", readonly=True)
IN3: Final = types.Array(types.float64, 3, "C", readonly=True)
IN4: Final = types.Array(types.float64, 4, "C", readonly=True)
OUT1: Final = types.Array(types.float64, 1, "C")
OUT2: Final = types.Array(types.float64, 2, "C")
OUT3: Final = types.Array(types.float64, 3, "C")
OUT4: Final = types.Array(types.float64, 4, "C")
F8: Final = types.float64
I8: Final = types.int64

COMPILED: Final[dict[str, float]] = {}  # kernel -> seconds, for those this process had to compile


def compile_note() -> str:
    """One line on what this process had to compile and how long it took; empty when all came from the cache."""
    if not COMPILED:
        return ""
    return f"compiled {len(COMPILED)} kernels in {sum(COMPILED.values()):.1f} s; later runs take them from {CACHE}"


def kernel(*arguments: Any) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Compile a function of float64 C-order arrays with one explicit signature that returns nothing.

    Use `IN1..IN4` for read-only inputs and `OUT1..OUT4` for what it fills or advances.
    """

    def declare(function: Callable[..., None]) -> Callable[..., None]:
        begin = time.perf_counter()
        compiled = numba.njit(types.void(*arguments), cache=True, nogil=True, error_model="numpy")(function)
        _note(compiled, function, begin)
        return compiled  # type: ignore[no-any-return]

    return declare


def inline(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a small function of numbers that kernels call."""
    return numba.njit(function, error_model="numpy")  # type: ignore[no-any-return]


class _StepCache(FunctionCache):  # type: ignore[misc]
    """Cache of the loop round one step function, in files of its own.

    The stock key holds the closed-over dispatcher, whose identity differs in each process: it would never hit. And all
    loops would share one index, in which two processes that compile at once give the same data file to two kernels.
    """

    def __init__(self, scan: Callable[..., None], step: Callable[..., None]) -> None:
        super().__init__(scan)
        self._step_key = f"{step.__qualname__}-{file_digest(Path(step.__code__.co_filename))}"
        self._cache_file = IndexDataCacheFile(
            cache_path=self._cache_path,
            filename_base=f"{self._impl.filename_base}-{self._step_key.replace('<', '').replace('>', '')}",
            source_stamp=self._impl.locator.get_source_stamp(),
        )

    def _index_key(self, sig: Any, codegen: Any) -> Any:
        return (sig, codegen.magic_tuple(), self._step_key)


def scan_kernel(step: Callable[..., None]) -> Callable[..., None]:
    """Compile a loop over corners, ticks and cases round `step(x, p, s, out)`.

    `step` gets the inputs, parameters and state of one corner, tick and case as 1-D views, changes `s` in place and
    fills `out`. It may call compiled functions and use constants of its own file and of the four packages only.
    """
    begin = time.perf_counter()
    compiled_step = numba.njit(step, error_model="numpy")

    def scan(x: Any, p: Any, s: Any, out: Any) -> None:  # pragma: no cover - compiled
        for corner in range(x.shape[1]):
            for tick in range(x.shape[2]):
                for case in range(x.shape[3]):
                    compiled_step(x[:, corner, tick, case], p[:, corner, case], s[:, corner, case], out[:, corner, tick, case])

    dispatcher = numba.njit(error_model="numpy", nogil=True)(scan)
    if not numba.config.DISABLE_JIT:
        dispatcher._cache = _StepCache(scan, step)
        dispatcher.compile(types.void(IN4, IN3, OUT3, OUT4))
        dispatcher.disable_compile()
    _note(dispatcher, step, begin)
    return dispatcher  # type: ignore[no-any-return]


def _note(compiled: Any, function: Callable[..., None], begin: float) -> None:
    if not numba.config.DISABLE_JIT and not sum(compiled.stats.cache_hits.values()):
        COMPILED[f"{function.__module__}.{function.__qualname__}"] = time.perf_counter() - begin

"""Compiled kernels: the one way to declare one, with a cache that no edit and no second process can make lie.

The stock cache looks only at the file of the decorated function: after the edit of a helper in another file it hands
out stale numbers. Here every kernel has cache files of its own, named by all it was made from (`kernel_cache`), so an
edit recompiles what it touches and nothing else. What a kernel freezes must come from Python sources: never from a
global that was read from a data file or from the environment.
"""

from __future__ import annotations

import hashlib
import os
import platform
import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import llvmlite
import numba
import numpy as np
from numba import types
from numba.core import cgutils
from numba.core.caching import FunctionCache, IndexDataCacheFile
from numba.core.serialize import dumps
from numba.extending import intrinsic
from numba.np.arrayobj import populate_array

from dualduty.kernel_cache import cache_folder, file_digest, forget_unused

_config: Any = numba.config  # its attributes are made at run time
_njit: Any = numba.njit  # its types don't know `_nrt`
_LIBRARIES: Final = {"numba": numba, "llvmlite": llvmlite, "numpy": np}
_VERSIONS: Final = (f"python{platform.python_version()}", *(f"{name}{library.__version__}" for name, library in _LIBRARIES.items()))
CACHE: Final = cache_folder("-".join(_VERSIONS))
_config.CACHE_DIR = str(CACHE)

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
_announce: list[Callable[[], None]] = []


def before_compiling(announce: Callable[[], None]) -> None:
    """Have `announce` called once, just before this process compiles its first kernel; not at all when it needn't."""
    _announce.append(announce)


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
        return _compiled(function, function, types.void(*arguments))

    return declare


def inline(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a small function of numbers that kernels call.

    It can't make arrays. So it needn't count who holds one: such counting, which locks the bus, took a fifth of a plant step.
    """
    return _njit(function, error_model="numpy", forceinline=True, _nrt=False)  # type: ignore[no-any-return]


def scan_kernel(step: Callable[..., None]) -> Callable[..., None]:
    """Compile a loop over corners, ticks and cases round `step(x, p, s, out)`.

    `step` gets the inputs, parameters and state of one corner, tick and case as 1-D views, changes `s` in place and
    fills `out`. What it calls or freezes must come from its own file or from the four packages.
    """
    compiled_step = inline(step)

    def scan(x: Any, p: Any, s: Any, out: Any) -> None:  # pragma: no cover - compiled
        for corner in range(x.shape[1]):
            for tick in range(x.shape[2]):
                for case in range(x.shape[3]):
                    compiled_step(x[:, corner, tick, case], p[:, corner, case], s[:, corner, case], out[:, corner, tick, case])

    return _compiled(scan, step, types.void(IN4, IN3, OUT3, OUT4))


@intrinsic
def _row_on_stack(_typing: Any, size: Any) -> Any:
    """An array of `size` numbers, a constant, that lives as long as the kernel's call: the compiler knows nothing else points at it."""
    if not isinstance(size, types.IntegerLiteral):
        return None
    count, made = size.literal_value, types.Array(types.float64, 1, "C")

    def generate(context: Any, builder: Any, _signature: Any, _arguments: Any) -> Any:
        room = cgutils.alloca_once(builder, context.get_value_type(types.float64), size=max(count, 1))
        array = context.make_array(made)(context, builder)
        width = context.get_abi_sizeof(context.get_data_type(types.float64))
        populate_array(
            array, data=room, shape=[context.get_constant(types.intp, count)], strides=[context.get_constant(types.intp, width)],
            itemsize=context.get_constant(types.intp, width), meminfo=None,
        )  # fmt: skip
        return array._getvalue()

    return made(size), generate


def tick_kernel(step: Callable[..., None], signature: Any, reads: int, outs: int) -> Callable[..., None]:
    """Compile a loop over ticks and cases round one tick of a plug-in, `step(x, p, s, out)`.

    The loop is `(board, in_rows, p, s, out_rows, ticks, cases)`: it gathers the `reads` rows of the board that the step
    reads, and puts the `outs` rows that it gives into the board's `out_rows`; `p` holds parameters and `s` the memory, by case.
    """
    compiled_step = inline(step)
    row: Any = np.empty if _config.DISABLE_JIT else _row_on_stack

    def loop(  # noqa: PLR0913 - a kernel takes its arrays one by one
        board: Any, in_rows: Any, p: Any, s: Any, out_rows: Any, ticks: int, cases: int
    ) -> None:  # pragma: no cover - compiled
        x = row(reads)
        out = row(outs)
        for tick in range(ticks):
            for case in range(cases):
                at = tick * cases + case
                for index in range(reads):
                    x[index] = board[in_rows[index], at]
                for index in range(outs):
                    out[index] = 0.0
                compiled_step(x, p[min(case, p.shape[0] - 1)], s[case], out)
                for index in range(outs):
                    board[out_rows[index], at] = out[index]

    return _compiled(loop, step, signature)


def swept_kernel(step: Callable[..., None], signature: Any, reads: int, outs: int) -> Callable[..., None]:
    """Compile a loop over cases and ticks round one tick of a plug-in whose cases read the same signals.

    The loop is `(packed, board, own_at, own_rows, p, s, kept_at, kept_rows)`: `packed` holds what all cases read,
    (tick, `reads`); in its places `own_at` each case has its own row of the board, (row, case, tick), instead; of the
    `outs` results those at `kept_at` go to its `kept_rows`.
    """
    compiled_step = inline(step)
    row: Any = np.empty if _config.DISABLE_JIT else _row_on_stack

    def loop(  # noqa: PLR0913, PLR0917 - a kernel takes its arrays one by one
        packed: Any, board: Any, own_at: Any, own_rows: Any, p: Any, s: Any, kept_at: Any, kept_rows: Any
    ) -> None:  # pragma: no cover - compiled
        x = row(reads)
        out = row(outs)
        for case in range(s.shape[0]):
            for tick in range(packed.shape[0]):
                for index in range(reads):
                    x[index] = packed[tick, index]
                for index in range(own_at.shape[0]):
                    x[own_at[index]] = board[own_rows[index], case, tick]
                for index in range(outs):
                    out[index] = 0.0
                compiled_step(x, p[min(case, p.shape[0] - 1)], s[case], out)
                for index in range(kept_at.shape[0]):
                    board[kept_rows[index], case, tick] = out[kept_at[index]]

    return _compiled(loop, step, signature)


def _compiled(function: Callable[..., None], origin: Callable[..., None], signature: Any) -> Callable[..., None]:
    """Compile `function` for one signature, or load it; `origin` is what tells it from other kernels."""
    dispatcher = numba.njit(function, nogil=True, error_model="numpy")
    if _config.DISABLE_JIT:
        return dispatcher  # type: ignore[no-any-return]
    begin = time.perf_counter()
    dispatcher._cache = _OwnFiles(function, origin, signature)
    dispatcher.compile(signature)
    dispatcher.disable_compile()
    if not dispatcher.stats.cache_hits:
        COMPILED[f"{origin.__module__}.{origin.__qualname__}"] = time.perf_counter() - begin
    return dispatcher  # type: ignore[no-any-return]


class _OwnFiles(FunctionCache):
    """Cache of one kernel for one signature, in an index and a data file named by all it was made from.

    With the stock names, several kernels can share an index (all loops of `scan_kernel` would); two processes that
    compile at once can then give one data file to two kernels, and the wrong one would be loaded without a word.
    """

    def __init__(self, function: Callable[..., None], origin: Callable[..., None], signature: Any) -> None:
        super().__init__(function)  # type: ignore[no-untyped-call]
        code = origin.__code__
        frozen = dumps([cell.cell_contents for cell in origin.__closure__ or ()])
        made_from = (file_digest(Path(code.co_filename)), origin.__qualname__, code.co_firstlineno, str(signature), frozen)
        self._key = hashlib.sha256(repr(made_from).encode()).hexdigest()[:24]
        name = re.sub(r"\W+", "_", f"{origin.__module__}.{origin.__qualname__}")
        self._cache_file = IndexDataCacheFile(str(CACHE), f"{name[-60:]}-{self._key}", source_stamp=self._key)

    def _index_key(self, sig: Any, codegen: Any) -> Any:
        return (sig, codegen.magic_tuple(), self._key)  # the middle names the processor: a home folder may be shared

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        found = super().load_overload(sig, target_context)  # type: ignore[no-untyped-call]
        if found is None:
            while _announce:
                _announce.pop()()
        else:
            os.utime(self._cache_file._index_path)
        return found

    def save_overload(self, sig: Any, data: Any) -> None:
        super().save_overload(sig, data)  # type: ignore[no-untyped-call]
        if not COMPILED:  # once a process
            forget_unused(CACHE)

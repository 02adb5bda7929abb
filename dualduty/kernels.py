"""Compiled kernels: where their cache lives, and the one way to declare one.

The stock cache looks only at the file of the decorated function, so an edited helper in another file would leave
stale numbers behind. Here the cache folder carries a digest of every source of the four packages and of the library
versions: an edit gives a new folder. Where nothing is writable, a temporary folder serves.
"""

from __future__ import annotations

import hashlib
import importlib.metadata
import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import numba
from numba import types
from numba.core.caching import FunctionCache

_HOUSE: Final = Path(__file__).resolve().parent.parent


def sources_digest() -> str:
    """Digest of every Python source that may hold a kernel, and of the versions that compile it."""
    digest = hashlib.sha256()
    for package in ("dualduty", "strategies", "plant", "replay"):
        for path in sorted((_HOUSE / package).rglob("*.py")):
            text = path.read_bytes()
            if b"kernel" in text or b"njit" in text:
                digest.update(path.relative_to(_HOUSE).as_posix().encode() + b"\0" + text)
    for name in ("numba", "numpy", "llvmlite"):
        digest.update(f"{name}={importlib.metadata.version(name)}".encode())
    digest.update(sys.version.encode())
    return digest.hexdigest()[:16]


def _cache_root() -> Path:
    if chosen := os.environ.get("DUALDUTY_CACHE"):
        return Path(chosen)
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", str(Path.home()))) / "dualduty" / "Cache"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "dualduty"
    return Path(os.environ.get("XDG_CACHE_HOME", str(Path.home() / ".cache"))) / "dualduty"


def _writable(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def cache_folder() -> Path:
    """Folder of compiled kernels for exactly these sources; made when missing."""
    wanted = _cache_root() / "kernels" / sources_digest()
    if _writable(wanted):
        return wanted
    return Path(tempfile.mkdtemp(prefix="dualduty-kernels-"))


CACHE: Final = cache_folder()
IS_COLD: Final = not any(CACHE.rglob("*.nbi"))  # the first run compiles; commands say so
numba.config.CACHE_DIR = str(CACHE)

IN1: Final = types.Array(types.float64, 1, "C", readonly=True)
IN2: Final = types.Array(types.float64, 2, "C", readonly=True)
IN3: Final = types.Array(types.float64, 3, "C", readonly=True)
IN4: Final = types.Array(types.float64, 4, "C", readonly=True)
OUT1: Final = types.Array(types.float64, 1, "C")
OUT2: Final = types.Array(types.float64, 2, "C")
OUT3: Final = types.Array(types.float64, 3, "C")
F8: Final = types.float64
I8: Final = types.int64


def kernel(*arguments: Any) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Compile a function of float64 C-order arrays with one explicit signature that returns nothing.

    Use `IN1..IN4` for read-only inputs and `OUT1..OUT3` for what it fills or advances.
    """
    return numba.njit(types.void(*arguments), cache=True, nogil=True, error_model="numpy")  # type: ignore[no-any-return]


def inline(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a small function of numbers that kernels call."""
    return numba.njit(function, error_model="numpy")  # type: ignore[no-any-return]


class _StepCache(FunctionCache):  # type: ignore[misc]
    """Cache of a kernel closed over a step function, keyed by the step's file.

    The stock key holds the closed-over dispatcher, whose identity differs in each process: it would never hit.
    """

    step_key = ""

    def _index_key(self, sig: Any, codegen: Any) -> Any:
        return (sig, codegen.magic_tuple(), self.step_key)


def scan_kernel(step: Callable[..., None]) -> Callable[..., None]:
    """Compile a loop over corners, ticks and cases round `step(x, p, s, out)`.

    `step` gets the inputs, parameters and state of one corner, tick and case as 1-D views, changes `s` in place and
    fills `out`. It may call other compiled functions of its own file only.
    """
    compiled_step = numba.njit(step, error_model="numpy")

    def scan(x: Any, p: Any, s: Any, out: Any) -> None:  # pragma: no cover - compiled
        for corner in range(x.shape[1]):
            for tick in range(x.shape[2]):
                for case in range(x.shape[3]):
                    compiled_step(x[:, corner, tick, case], p[:, corner, case], s[:, corner, case], out[:, corner, tick, case])

    dispatcher = numba.njit(error_model="numpy", nogil=True)(scan)
    if not numba.config.DISABLE_JIT:
        cache = _StepCache(scan)
        source = Path(step.__code__.co_filename)
        cache.step_key = hashlib.sha256(source.read_bytes() + step.__qualname__.encode()).hexdigest()
        dispatcher._cache = cache  # noqa: SLF001 - numba has no public way to give a key of one's own
        dispatcher.compile(types.void(IN4, IN3, OUT3, types.Array(types.float64, 4, "C")))
        dispatcher.disable_compile()
    return dispatcher  # type: ignore[no-any-return]

"""The plant's twin in C: built at need with the system's compiler, called through ctypes."""

from __future__ import annotations

import ctypes
import shlex
import shutil
import subprocess
import sysconfig
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from plant import rows
from plant.packed import CASE_TYPE, Packed

Array = NDArray[np.float64]

SOURCE: Final = Path(__file__).with_name("twin.c")
FLAGS: Final = ("-O3", "-march=native", "-std=gnu11", "-shared", "-fPIC")  # GNU C may join a product and a sum: as fast as C goes
STEPS: Final = 2  # plant steps of a tick
_C_NAMES: Final = {"f8": "double", "i8": "long long"}


def compiler() -> str | None:
    """The system's C compiler, if there is one."""
    named = shlex.split(str(sysconfig.get_config_var("CC") or "cc"))[0]
    return next((found for name in (named, "cc", "gcc", "clang") if (found := shutil.which(name))), None)


def header() -> str:
    """`Case` and the names of rows, from what the kernel is made from."""
    names = [f"#define {name} {number}" for name, number in vars(rows).items() if name.isupper() and isinstance(number, int)]
    fields = [f"    {_declared(name)};" for name in CASE_TYPE.names or ()]
    size = f'_Static_assert(sizeof(Case) == {CASE_TYPE.itemsize}, "a record of CASE_TYPE");'
    return "\n".join([*names, "typedef struct {", *fields, "} Case;", size, ""])


def _declared(name: str) -> str:
    kind = CASE_TYPE[name]
    return f"{_C_NAMES[kind.base.str[1:]]} {name}{''.join(f'[{count}]' for count in kind.shape)}"


class Twin:
    """The twin, built in a folder."""

    def __init__(self, folder: Path) -> None:
        (folder / "case.h").write_text(header())
        library = folder / "libtwin.so"
        subprocess.run([str(compiler()), *FLAGS, "-I", str(folder), str(SOURCE), "-o", str(library), "-lm"], check=True)
        self._library = ctypes.CDLL(str(library))

    def run(self, part: str, packed: Packed, duty: Array, row: Array, kept: Array | None = None) -> None:
        """Advance the one case of `packed`.

        part : str
            "full" or "core".
        duty : (tick, 8) array
            Latched duties of each tick. [1]
        row : (row,) array
            As the kernel's, advanced. [SI]
        kept : (step, STATE_SIZE) array
            Takes the states after each step. [SI]
        """
        call: Any = getattr(self._library, f"twin_{part}")
        call.restype = ctypes.c_long
        done = call(
            _at(packed.cases), _at(packed.tables), _at(packed.tracks), ctypes.c_long(packed.tracks.shape[1]),
            _at(duty), ctypes.c_long(len(duty)), ctypes.c_long(STEPS), _at(row), None if kept is None else _at(kept),
        )  # fmt: skip
        assert done == STEPS * len(duty), "the numbers ran away"


def _at(array: NDArray[Any]) -> ctypes.c_void_p:
    assert array.flags.c_contiguous
    return ctypes.c_void_p(array.ctypes.data)

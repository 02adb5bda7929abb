"""What a compiler says of a `tick` that it can't compile, in one line with its place."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

from dualduty.errors import BadInput

_HINTS: Final = {
    "<class 'function'>": "; a helper is decorated with inline from dualduty.kernels",
    "is not defined": "; expected a name of this file",
    "NRT required": "; a tick makes no arrays, lists or dicts",
    "Only accept returning of array": "; a tick makes no arrays, lists or dicts",
}


def compile_fault(error: Exception, file: str, plug_in: str) -> BadInput:
    """The fault as bad input: file, class, the line where the compiler names it, what it could not do."""
    said = str(error)
    place = re.search(rf'{re.escape(Path(file).name)}(?:", line |\s\()(\d+)', said)  # the innermost comes first
    line = f"line {place[1]}: " if place else ""
    hint = next((hint for token, hint in _HINTS.items() if token in said), "")
    return BadInput(f"{file}: {plug_in}", f"{line}tick can't be compiled: {_heart(said)}{hint}")


def _heart(said: str) -> str:
    """The first sentence that says something; of an operation that the numbers don't have, the operation."""
    operation = re.search(r"No implementation of function .*?>>> (.+?)\n", said, re.DOTALL)
    if operation:
        return "no such operation on these: " + re.sub(r"Literal\[(\w+)\]\((.*?)\)", r"\1 \2", operation[1].strip())
    lines = [line.strip() for line in said.splitlines() if line.strip() and not line.startswith("Failed in nopython mode")]
    return lines[0].split(" Raised from")[0].rstrip(".") if lines else "no reason is given"

"""Lines of a CSV log with more or fewer fields than there are columns: two glued together, or one that lost its end.

The reader of numbers would fill up the short ones and cut the long ones without a word.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from replay.csv_head import Head

_BLOCK = 1 << 20


def uneven_line(path: Path, head: Head) -> tuple[int, int] | None:
    """Number and field count of the first line that doesn't fit the header; None when all fit, or text is quoted.

    The delimiters of the whole file are counted first, which is quick; lines are looked at one by one only when the
    sum doesn't fit.
    """
    wanted = len(head.columns) - 1
    lines, delimiters, quotes = _counts(path, head)
    if quotes or delimiters in (lines * wanted, lines * (wanted + 1)):
        return None
    return _first_uneven(path, head)


def _counts(path: Path, head: Head) -> tuple[int, int, int]:
    """Lines below the header that end, delimiters and quotes in them."""
    lines = delimiters = quotes = 0
    with path.open("rb") as file:
        for _ in range(head.lines_above):
            file.readline()
        block = b""
        while more := file.read(_BLOCK):
            block = more
            codes = np.frombuffer(block, dtype=np.uint8)
            lines += int(np.count_nonzero(codes == ord("\n")))
            delimiters += int(np.count_nonzero(codes == ord(head.delimiter)))
            quotes += int(np.count_nonzero(codes == ord('"')))
    return lines + (not block.endswith(b"\n") and bool(block)), delimiters, quotes


def _first_uneven(path: Path, head: Head) -> tuple[int, int] | None:
    allowed = (len(head.columns), len(head.columns) + 1)  # one more: a delimiter at the end of each line
    with path.open(encoding="utf-8", errors="replace") as file:
        for number, line in enumerate(file, start=1):
            fields = line.count(head.delimiter) + 1
            if number > head.lines_above and line.strip() and fields not in allowed:
                return number, fields
    return None


def last_line(path: Path) -> int:
    """Number of the last line that isn't empty."""
    last = 0
    with path.open(encoding="utf-8", errors="replace") as file:
        for number, line in enumerate(file, start=1):
            if line.strip():
                last = number
    return last

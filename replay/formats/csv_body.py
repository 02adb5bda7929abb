"""Goes through the lines of numbers of a text file once before they are read: each must have a field for each column.

The reader of numbers would fill up short lines and cut long ones without a word. A last line that is short, or ends in zero bytes, was
being written when the power went: it is left out, and that is told.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.formats.csv_cells import BLANKS, field_count
from replay.formats.plain_text import PlainText
from replay.notice import Notice

_LONGEST_LINE: Final = 1 << 24  # bytes
_ZEROS: Final = "holds zero bytes: expected text; the file is damaged here, or is no text"


@dataclass(frozen=True)
class Body:
    """`end` is where the last whole line ends [bytes of UTF-8]; `blank` are the numbers of lines that hold nothing."""

    end: int
    blank: NDArray[np.int64]
    notices: tuple[Notice, ...]
    decimal_comma: bool | None


@dataclass
class _Scan:
    name: str
    columns: int
    delimiter: str
    decimal_comma: bool | None
    line: int = 0  # the last one seen
    end: int = 0
    blank: list[int] = field(default_factory=list)
    short: tuple[int, int, int, int] | None = None  # line, fields, where it begins, where it ends

    def __post_init__(self) -> None:
        self.even: list[bytes] = []
        if self.delimiter != BLANKS and len(self.delimiter.encode()) == 1:
            self.even = [self.delimiter.encode() * (self.columns - 1 + more) + b"\n" for more in (0, 1)]
        self.dropped = bytes(code for code in range(256) if code not in (self.delimiter + '\n"\0').encode())

    def head(self, line: bytes) -> None:
        """A line above the numbers."""
        self.line += 1
        self.end += len(line)
        if b"\0" in line.rstrip(b"\0"):
            raise BadInput(f"{self.name} line {self.line}", _ZEROS)

    def lines(self, block: bytes) -> None:
        """Some whole lines."""
        if self.decimal_comma is None:
            self.decimal_comma = _decimal_comma(block, self.delimiter)
        marks = block.translate(None, self.dropped) if self.even else b""
        count = marks.count(b"\n")
        if self.short is None and any(marks == pattern * count for pattern in self.even):
            self.line += count
            self.end += len(block)
            return
        for line in block.split(b"\n")[:-1]:
            self.one(line, 1)

    def one(self, line: bytes, line_end: int) -> None:
        """One line, looked at closely."""
        self.line += 1
        start, self.end = self.end, self.end + len(line) + line_end
        text = line.decode("utf-8", errors="replace")
        if not text.strip():
            self.blank.append(self.line)
            return
        self.refuse_short()
        fields = field_count(text, self.delimiter)
        if fields not in (self.columns, self.columns + 1):  # one more: a delimiter at the end of each line
            self.short = (self.line, fields, start, self.end)
            if fields > self.columns:
                self.refuse_short()

    def refuse_short(self) -> None:
        """A line that doesn't fit and isn't the last."""
        if self.short is None:
            return
        line, fields = self.short[:2]
        if fields < 0:
            raise BadInput(f"{self.name} line {line}", "the quotation marks of this line don't pair up")
        problem = f"{fields} of {self.columns} fields: expected one field for each column of the header"
        raise BadInput(f"{self.name} line {line}", problem)


def scan_body(text: PlainText, name: str, columns: int, delimiter: str, layout: tuple[int, bool | None]) -> Body:
    """Go through all lines below the head; `layout` is how many lines that has, and whether the decimal sign is a comma where known."""
    above, decimal_comma = layout
    scan = _Scan(name, columns, delimiter, decimal_comma)
    carried = b""
    while data := text.read():
        block = carried + data if carried else data
        while scan.line < above and b"\n" in block:
            line, _, block = block.partition(b"\n")
            scan.head(line + b"\n")
        if b"\0" in block:
            return _ended_in_zeros(scan, block, text)
        cut = block.rfind(b"\n") + 1
        if cut:
            scan.lines(block[:cut])
        carried = block[cut:]
        if len(carried) > _LONGEST_LINE:
            raise BadInput(f"{name} line {scan.line + 1}", "the line has no end: expected text in lines")
    if carried and scan.line < above:
        scan.head(carried)
    elif carried:
        scan.one(carried, 0)
    return _body(scan)


def _body(scan: _Scan) -> Body:
    notices = []
    if scan.short is not None:
        line, fields, start, _ = scan.short
        scan.end = start
        had = f"{fields} of {scan.columns} fields" if fields >= 0 else "a quotation mark without its other"
        notices.append(_cut(f"line {line} left out: {had}, the log was cut off while it was written"))
    return Body(scan.end, np.array(scan.blank, dtype=np.int64), tuple(notices), scan.decimal_comma)


def _ended_in_zeros(scan: _Scan, block: bytes, text: PlainText) -> Body:
    """The rest of the file is zero bytes, as a power loss leaves it; anything else after them is an error."""
    at = block.index(b"\0")
    zeros, more = len(block) - at, block[at:]
    while more:
        if more.strip(b"\0\n"):
            line = scan.line + block[:at].count(b"\n") + 1
            raise BadInput(f"{scan.name} line {line}", _ZEROS)
        more = text.read()
        zeros += len(more)
    cut = block.rfind(b"\n", 0, at) + 1
    if cut:
        scan.lines(block[:cut])
    body = _body(scan)
    begun = f"line {scan.line + 1} and the " if at > cut else ""
    told = _cut(f"{begun}{zeros} zero bytes at the end left out: the log was cut off while it was written")
    return Body(body.end, body.blank, (*body.notices, told), body.decimal_comma)


def _cut(text: str) -> Notice:
    return Notice("cut line", "", np.nan, 0.0, text)


def _decimal_comma(block: bytes, delimiter: str) -> bool | None:
    """The decimal sign that some numbers of a block show, None where none does."""
    edge = rb"[\s" + re.escape(delimiter.encode()) + rb"]"
    point = re.search(edge + rb"[+-]?\d+\.\d+(?=" + edge + rb")", block)
    comma = re.search(edge + rb"[+-]?\d+,\d+(?=" + edge + rb")", block) if delimiter != "," else None
    if point is None and comma is None:
        return None
    return point is None

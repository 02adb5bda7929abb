"""What a channel map may say about how a text file is laid out; whatever it leaves open is found from the file itself."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class FileForm:
    """Delimiter, decimal sign, encoding and header of a text file; "" , None and line 0 mean: find out.

    `header_line` counts from 1; `lines_below_header` are lines of units and the like between header and first sample.
    """

    delimiter: str = ""
    decimal_comma: bool | None = None
    encoding: str = ""
    header_line: int = 0
    lines_below_header: int | None = None

"""What a cell of a text file can be: a number, a date or clock time, a word for "no value", or text."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from typing import Final

_WORDS: Final = ("", "-", "--", "---", "n/a", "na", "#n/a", "nan", "-nan", "+nan", "null", "none", "nil", "inf", "-inf", "+inf", "infinity")
NO_VALUE: Final = frozenset(spelled for word in _WORDS for spelled in (word, word.upper(), word.title(), word.capitalize(), _WORDS[0]))
NO_VALUE_SPELLED: Final = (
    *sorted(NO_VALUE),
    "NaN",
    "-NaN",
    "+NaN",
    "<NA>",
    "1.#QNAN",
    "-1.#QNAN",
    "1.#IND",
    "-1.#IND",
    "#NAME?",
    "#DIV/0!",
)
BLANKS: Final = " "  # as a delimiter: columns aligned with any number of blanks

_POINT: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_COMMA: Final = re.compile(r"[+-]?(\d+,\d*|,\d+)([eE][+-]?\d+)?")
_THOUSANDS: Final = re.compile(r"[+-]?\d{1,3}(,\d{3})+\.\d+|[+-]?\d{1,3}(\.\d{3})+,\d+|[+-]?\d{1,3}(,\d{3}){2,}|[+-]?\d{1,3}(\.\d{3}){2,}")
_SET_APART: Final = re.compile(r"[+-]?\d{1,3}([ '\u00a0\u202f]\d{3})+([.,]\d+)?")
_DATE: Final = re.compile(r"\d{4}[-/]\d{1,2}[-/]\d{1,2}([T ]\d{1,2}:\d{2}(:\d{2}([.,]\d+)?)?\s?(Z|UTC|[+-]\d{2}(:?\d{2})?)?)?")
_CLOCK: Final = re.compile(r"(\d{1,3}:)?\d{1,2}:\d{1,2}([.,]\d+)?")


def kind_of(cell: str) -> str:
    """`blank`, `number`, `date`, `clock` or `text`."""
    text = cell.strip().strip('"').strip()
    if text in NO_VALUE or text.casefold() in NO_VALUE:
        return "blank"
    if _POINT.fullmatch(text) or _COMMA.fullmatch(text) or _THOUSANDS.fullmatch(text):
        return "number"
    if _DATE.fullmatch(text):
        return "date"
    return "clock" if _CLOCK.fullmatch(text) else "text"


def decimal_comma_in(cells: Sequence[str]) -> bool | None:
    """True or False when the numbers among the cells show their decimal sign, None when they don't."""
    stripped = [cell.strip().strip('"') for cell in cells]
    if any("." in cell and _POINT.fullmatch(cell) for cell in stripped):
        return False
    return True if any(_COMMA.fullmatch(cell) for cell in stripped) else None


def has_thousands(cell: str) -> bool:
    """True for a number written with separators between its thousands."""
    return any(form.fullmatch(cell.strip()) for form in (_THOUSANDS, _SET_APART))


def cells_of(line: str, delimiter: str) -> list[str]:
    """The cells of one line, quotes taken off; without the last one where the line ends with its delimiter."""
    if delimiter == BLANKS:
        return next(csv.reader([" ".join(line.split())], delimiter=" "), []) if '"' in line else line.split()
    try:
        cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=delimiter != "\t"), [])
    except csv.Error:
        cells = line.split(delimiter)
    return [cell.strip() for cell in cells]


def field_count(line: str, delimiter: str) -> int:
    """How many fields a line has; -1 where its quotation marks don't pair up."""
    if '"' not in line:
        return len(line.split()) if delimiter == BLANKS else line.count(delimiter) + 1
    plain = " ".join(line.split()) if delimiter == BLANKS else line
    try:
        return len(next(csv.reader([plain], delimiter=delimiter, skipinitialspace=delimiter != "\t", strict=True), []))
    except csv.Error:
        return -1

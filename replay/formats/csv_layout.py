"""Finds the delimiter, the line of column names and the first sample among the first lines of a text file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from dualduty.errors import BadInput
from dualduty.units import unit
from replay.formats.csv_cells import BLANKS, cells_of, kind_of
from replay.formats.file_form import FileForm

DELIMITERS: Final = (",", ";", "\t", "|", BLANKS)
COMMENT: Final = ("#", "%", "//")
_LOOKED_AT: Final = 60  # lines, from where numbers are first seen
_MOST_BELOW: Final = 8  # lines of units and the like
_MOSTLY: Final = 0.8


@dataclass(frozen=True)
class Layout:
    """Delimiter, index of the line of column names (None: there is none) and of the line of the first sample."""

    delimiter: str
    header: int | None
    first: int


def layout_of(lines: Sequence[str], form: FileForm, path: str) -> Layout:
    """The layout that `form` says, and for what it leaves open the one that fits the lines best."""
    if not any(line.strip() for line in lines):
        raise BadInput(path, "the log is empty: expected a line of column names and rows of numbers")
    delimiter = form.delimiter or _delimiter(lines)
    rows = _Rows(lines, delimiter)
    if form.header_line:
        if form.header_line > len(lines):
            raise BadInput(path, f"expected column names on line {form.header_line}; the file's head has {len(lines)} lines")
        header: int | None = form.header_line - 1
    else:
        header = rows.header()
    if header is None:
        return Layout(delimiter, None, rows.first_sample(0) or 0)
    if form.lines_below_header is not None:
        return Layout(delimiter, header, header + 1 + form.lines_below_header)
    return Layout(delimiter, header, header + 1 + rows.texts_below(header))


class _Rows:
    """The first lines of a file, cut into cells."""

    def __init__(self, lines: Sequence[str], delimiter: str) -> None:
        self.lines = lines
        self.delimiter = delimiter

    def cells(self, index: int) -> list[str]:
        found = cells_of(self.lines[index], self.delimiter)
        return found[:-1] if len(found) > 1 and not found[-1] else found

    def is_note(self, index: int) -> bool:
        """Nothing, or a comment."""
        line = self.lines[index].strip()
        return not line or line.startswith(COMMENT)

    def is_sample(self, index: int) -> bool:
        """Most of what stands there are numbers or stamps; half is enough where the first of it is one."""
        if self.is_note(index):
            return False
        kinds = [kind for cell in self.cells(index) if (kind := kind_of(cell)) != "blank"]
        texts = kinds.count("text")
        return bool(kinds) and texts < len(kinds) and (2 * texts < len(kinds) or (2 * texts == len(kinds) and kinds[0] != "text"))

    def first_sample(self, start: int) -> int | None:
        """The first line that looks like a sample with a likeness right below; without any, the first that looks like one."""
        found = [index for index in range(start, len(self.lines)) if self.is_sample(index)]
        below = {index: self._below(index) for index in found}
        alike = (index for index in found if below[index] in below and len(self.cells(below[index])) == len(self.cells(index)))
        return next(alike, found[0] if found else None)

    def _below(self, index: int) -> int:
        """The next line that isn't blank; -1 at the end."""
        return next((at for at in range(index + 1, len(self.lines)) if self.lines[at].strip()), -1)

    def header(self) -> int | None:
        """The line of column names; None when the numbers stand alone."""
        first = self.first_sample(0)
        plain = [index for index in range(len(self.lines)) if not self.is_note(index)]
        if first is None:
            return plain[0] if plain else self._noted(len(self.lines))
        width = len(self.cells(first))
        fitting = [index for index in plain if index < first and self._names(index, width)]
        if not fitting:  # names for more or fewer columns than the first sample has fields: that is told when lines are counted
            named = [index for index in plain if index < first and len(self.cells(index)) > 1 and not self._has_number(index)]
            return named[-1] if named else self._noted(first, width)
        if width <= 2:  # noqa: PLR2004 - notes of a key and a value have two cells as well: the lowest line that isn't units
            low = fitting[-1]
            return low - 1 if low - 1 in fitting and self._units(low) else low
        return self._top_of_block(fitting)

    def texts_below(self, header: int) -> int:
        """How many lines below the names hold no number at all, with a sample after them: units, types, descriptions."""
        for below in range(min(_MOST_BELOW, len(self.lines) - header - 2) + 1):
            at = header + 1 + below
            if at < len(self.lines) and self._has_number(at):
                return below
        return 0

    def _has_number(self, index: int) -> bool:
        return any(kind_of(cell) in ("number", "date", "clock") for cell in self.cells(index)) and not self.is_note(index)

    def _names(self, index: int, width: int) -> bool:
        """Cells for all columns but maybe one, mostly text."""
        cells = self.cells(index)
        texts = sum(kind_of(cell) == "text" for cell in cells)
        filled = sum(bool(cell) for cell in cells)
        return abs(len(cells) - width) <= 1 and filled >= max(1, min(width - 1, round(_MOSTLY * width))) and texts >= _MOSTLY * filled

    def _units(self, index: int) -> bool:
        """All cells are in brackets, or units of the trade."""
        return all(cell in ("", "-") or cell[0] in "[(" or _is_common_unit(cell) for cell in self.cells(index))

    @staticmethod
    def _top_of_block(fitting: list[int]) -> int:
        """The first of the lines that end the head without a break."""
        top = fitting[-1]
        for index in reversed(fitting[:-1]):
            if index != top - 1:
                break
            top = index
        return top

    def _noted(self, first: int, width: int = 0) -> int | None:
        """A comment right above the numbers that names as many columns as there are."""
        at = first - 1
        if at < 0 or not self.lines[at].lstrip().startswith(COMMENT):
            return None
        cells = cells_of(self.lines[at].lstrip().lstrip("#%/").lstrip(), self.delimiter)
        fits = len(cells) == width and width > 1 and all(kind_of(cell) == "text" for cell in cells)
        return at if fits else None


def _is_common_unit(cell: str) -> bool:
    try:
        unit(cell)
    except ValueError:
        return False
    return True


def _delimiter(lines: Sequence[str]) -> str:
    """The one by which most lines fall into equally many cells of which most are numbers."""
    plain = [line for line in lines if line.strip() and not line.lstrip().startswith(COMMENT)]
    scores = {delimiter: _score(plain, delimiter) for delimiter in DELIMITERS}
    best = max(DELIMITERS, key=scores.__getitem__)
    if scores[best] > 0 or not plain:
        return best
    return max(DELIMITERS[:-1], key=plain[0].count)


def _score(lines: Sequence[str], delimiter: str) -> float:
    rows = [[kind_of(cell) for cell in cells_of(line, delimiter)] for line in lines[-_LOOKED_AT:]]
    widths = Counter(len(row) for row in rows if len(row) > 1)
    if not widths:
        return 0.0
    width, count = widths.most_common(1)[0]
    good = sum(kind != "text" for row in rows if len(row) == width for kind in row) / (count * width)
    return count / len(rows) * good**2 * (1.0 if delimiter != BLANKS else 0.9)

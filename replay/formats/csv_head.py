"""What stands above the numbers of a text file: notes, column names, units; and how its cells are set apart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from dualduty.errors import BadInput
from replay.channels.recorded_unit import is_unit
from replay.formats.csv_cells import BLANKS, cells_of, decimal_comma_in, kind_of
from replay.formats.csv_layout import COMMENT, Layout, layout_of
from replay.formats.file_form import FileForm
from replay.formats.unit_in_name import unit_in_name
from replay.recording import Column

_DIMENSIONLESS: Final = ("-", "--", "[-]", "(-)")
_LONGEST_UNIT: Final = 12  # characters
_STAMP_KINDS: Final = ("date", "clock")


@dataclass(frozen=True)
class Head:
    """How a text file is laid out; `stamps` has the columns of dates and clock times, by index.

    `lines_above` is how many lines stand above the first sample, `header_line` is 0 where columns have no names;
    `decimal_comma` is None where no number shows its decimal sign.
    """

    preamble: tuple[str, ...]
    columns: tuple[Column, ...]
    delimiter: str
    lines_above: int
    header_line: int
    decimal_comma: bool | None
    stamps: dict[int, str]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the columns."""
        return tuple(column.name for column in self.columns)

    def facts(self) -> dict[str, str]:
        """How the file was taken to be laid out, and its notes."""
        delimiter = {BLANKS: "blanks", "\t": "tab"}.get(self.delimiter, self.delimiter)
        decimal = {True: "comma", False: "point", None: "not seen"}[self.decimal_comma]
        header = f"line {self.header_line}" if self.header_line else "none; columns are counted"
        told = {"delimiter": delimiter, "decimal sign": decimal, "column names": header, "first sample": f"line {self.lines_above + 1}"}
        said = {"date": "seconds since 1970-01-01 UTC", "clock": "seconds since midnight"}
        told |= {f"column {self.columns[index].name!r}": f"{kind}, read as {said[kind]}" for index, kind in self.stamps.items()}
        return told | ({"notes": "; ".join(self.preamble)} if self.preamble else {})


def read_head(lines: Sequence[str], form: FileForm, path: str) -> Head:
    """Find column names, units, delimiter and decimal sign in the first lines of a file.

    What `form` says is taken as it is; BadInput when that can't be, or when there is nothing but notes.
    """
    layout = layout_of(lines, form, path)
    header = lines[layout.header] if layout.header is not None else ""
    names = _names(cells_of(_uncommented(header), layout.delimiter)) if layout.header is not None else ()
    texts = [] if layout.header is None else [cells_of(line, layout.delimiter) for line in lines[layout.header + 1 : layout.first]]
    names = _joined(names, texts)
    below = (line for line in lines[layout.first : layout.first + 200] if line.strip() and not line.lstrip().startswith(COMMENT))
    samples = [cells_of(line, layout.delimiter) for line in below]
    if layout.header is None:
        names = tuple(f"column {index + 1}" for index in range(len(_without_last_blank(samples[0])) if samples else 0))
    if not names:
        raise BadInput(path, "the log is empty: expected a line of column names and rows of numbers")
    stamps = _stamps(samples, len(names))
    above = 0 if layout.header is None else layout.header + 1
    units = _units(names, texts)
    columns = tuple(Column(name, "s" if index in stamps else unit) for index, (name, unit) in enumerate(zip(names, units, strict=True)))
    return Head(
        _preamble(lines, layout), columns, layout.delimiter, layout.first, above,
        _decimal(form, layout.delimiter, samples, set(stamps)), stamps,
    )  # fmt: skip


def _decimal(form: FileForm, delimiter: str, samples: list[list[str]], stamps: set[int]) -> bool | None:
    if form.decimal_comma is not None:
        return form.decimal_comma
    if delimiter == ",":
        return False
    return decimal_comma_in([cell for row in samples for index, cell in enumerate(row) if index not in stamps])


def _uncommented(line: str) -> str:
    text = line.lstrip()
    return text.lstrip("#%/").lstrip() if text.startswith(COMMENT) else line


def _preamble(lines: Sequence[str], layout: Layout) -> tuple[str, ...]:
    above = lines[: layout.header if layout.header is not None else layout.first]
    return tuple(text for line in above if (text := _uncommented(line).strip()))


def _names(cells: list[str]) -> tuple[str, ...]:
    """Column names without those that are only a delimiter at the end of the line; one left out is counted."""
    while len(cells) > 1 and not cells[-1]:
        cells = cells[:-1]
    return tuple(cell or f"column {index + 1}" for index, cell in enumerate(cells)) if any(cells) else ()


def _joined(names: tuple[str, ...], rows: list[list[str]]) -> tuple[str, ...]:
    """Names that stand in two lines, as `left` above `acc_x`: joined where the first alone occur again and both together don't."""
    if len(set(names)) == len(names):
        return names
    for row in rows:
        both = tuple(f"{name} {cell}".strip() for name, cell in zip(names, row, strict=False))
        if len(both) == len(names) == len(set(both)):
            return both
    return names


def _without_last_blank(cells: list[str]) -> list[str]:
    return cells[:-1] if len(cells) > 1 and not cells[-1] else cells


def _stamps(samples: list[list[str]], columns: int) -> dict[int, str]:
    """Columns of which most first cells are dates, or most are clock times."""
    found: dict[int, str] = {}
    for index in range(columns):
        kinds = Counter(kind_of(row[index]) for row in samples if index < len(row))
        del kinds["blank"]
        kind, count = kinds.most_common(1)[0] if kinds else ("", 0)
        if kind in _STAMP_KINDS and 2 * count > kinds.total():
            found[index] = kind
    return found


def _units(names: Sequence[str], rows: list[list[str]]) -> list[str]:
    """Unit of each column: from the row below the names that holds units, else from brackets in the name."""
    row = next((row for row in rows if _holds_units(row)), [])
    below = ["" if cell in _DIMENSIONLESS else cell.strip("[](){}<> ") for cell in row] + [""] * len(names)
    return [unit or unit_in_name(name) for name, unit in zip(names, below, strict=False)]


def _holds_units(row: list[str]) -> bool:
    said = [cell for cell in row if cell and cell not in _DIMENSIONLESS]
    return bool(said) and 2 * sum(_like_unit(cell) for cell in said) >= len(said)


def _like_unit(cell: str) -> bool:
    if cell[0] in "[(" and cell[-1] in ")]":
        return True
    return len(cell) <= _LONGEST_UNIT and is_unit(cell)

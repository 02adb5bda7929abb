"""A marks file as it lies there, line by line: what is changed is written anew, every other line stays as it is to the byte."""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.files import whole_file
from replay.marks.mark import Mark
from replay.marks.mark_row import ALL_COLUMNS, COLUMNS, FURTHER, cells_of, columns_needed, fields_of, line_of, mark_of

_BOM: Final = b"\xef\xbb\xbf"


@dataclass(frozen=True)
class MarksFile:
    """A file of marks: `lines` with their ends, `header` the names of the columns, `marks` in order, each with its line as `row`.

    `content` is what was read, None where there was no file: a file that somebody else has changed since is never written over.
    """

    path: Path
    lines: tuple[str, ...]
    header: tuple[str, ...]
    header_row: int
    marks: tuple[Mark, ...]
    content: bytes | None = field(repr=False, default=None)

    @classmethod
    def read(cls, path: Path | str) -> MarksFile:
        """The file as it is; BadInput or SeveralBadInputs with line and column."""
        path = Path(path)
        try:
            content = path.read_bytes()
            text = content.removeprefix(_BOM).decode()
        except OSError as error:
            raise BadInput(path, f"can't be read: {error.strerror or error}") from None
        except UnicodeDecodeError:
            raise BadInput(path, "expected UTF-8 text") from None
        return cls._of(path, _lines(text), content)

    @classmethod
    def read_or_new(cls, path: Path | str) -> MarksFile:
        """The same, or an empty one where nothing lies there yet."""
        path = Path(path)
        if path.exists():
            return cls.read(path)
        return cls(path, (f"{line_of(ALL_COLUMNS)}\n",), ALL_COLUMNS, 1, ())

    @classmethod
    def _of(cls, path: Path, lines: Sequence[str], content: bytes) -> MarksFile:
        rows = [(number, line) for number, line in enumerate(lines, start=1) if line.strip() and not line.lstrip().startswith("#")]
        if not rows:
            raise BadInput(path, f"expected the columns {', '.join(COLUMNS)}, came nothing")
        header_row, header_line = rows[0]
        header = tuple(_fields(header_line, f"{path} line {header_row}"))
        _check_header(header, f"{path} line {header_row}")
        marks: list[Mark] = []
        problems: list[BadInput] = []
        for number, line in rows[1:]:
            mark, wrong = _read_row(header, line, f"{path} line {number}", number)
            problems += wrong
            marks += [mark] if mark else []
        if problems:
            raise problems[0] if len(problems) == 1 else SeveralBadInputs(problems)
        return cls(path, tuple(lines), header, header_row, tuple(marks), content)

    def with_changes(self, changes: Mapping[int, Mark], added: Iterable[Mark] = ()) -> MarksFile:
        """Marks of some rows changed, others added at the end; the header gains the columns that these need."""
        added = list(added)
        wanted = columns_needed([*changes.values(), *added])
        header = (*self.header, *(name for name in wanted if name not in self.header))
        lines, ending = list(self.lines), self._ending
        if lines and not lines[-1].endswith(("\n", "\r")):
            lines[-1] += ending
        if header != self.header:
            self._widen(lines, header)
        for row, mark in changes.items():
            lines[row - 1] = _row(mark, header) + _end_of(lines[row - 1])
        lines += [_row(mark, header) + ending for mark in added]
        marks = [replace(changes.get(mark.row, mark), row=mark.row) for mark in self.marks]
        marks += [replace(mark, row=len(lines) - len(added) + at) for at, mark in enumerate(added, start=1)]
        return replace(self, lines=tuple(lines), header=header, marks=tuple(marks))

    def save(self) -> MarksFile:
        """Write it whole, and give it as it lies there now; refused when the file is not what was read."""
        bom = _BOM if (self.content or b"").startswith(_BOM) else b""
        content = bom + "".join(self.lines).encode()
        with whole_file(self.path) as draft:
            draft.write_bytes(content)
            if _content(self.path) != self.content:
                problem = "has been changed by someone else since it was read; nothing was written, do it again on what it says now"
                raise BadInput(self.path, problem)
        return replace(self, content=content)

    @property
    def _ending(self) -> str:
        return _end_of(self.lines[self.header_row - 1]) or "\n"

    def _widen(self, lines: list[str], header: Sequence[str]) -> None:
        """The new header; rows stay as they are unless they would lack a field that no row may end before."""
        new = header[len(self.header) :]
        lines[self.header_row - 1] = _widened(lines[self.header_row - 1], new)
        if set(new) <= set(FURTHER):
            return
        for mark in self.marks:
            line = lines[mark.row - 1]
            fields = len(fields_of(line))
            lines[mark.row - 1] = _widened(line, [""] * (len(header) - fields))


def _lines(text: str) -> list[str]:
    """Lines with their ends; only line feeds and carriage returns end one."""
    return io.StringIO(text, newline="").readlines()


def _check_header(header: Sequence[str], where: str) -> None:
    for name in header:
        if name not in ALL_COLUMNS:
            near = difflib.get_close_matches(name, ALL_COLUMNS, n=1)
            hint = f"; did you mean {near[0]!r}?" if near else f"; expected {', '.join(ALL_COLUMNS)}"
            raise BadInput(where, f"unknown column {name!r}{hint}")
    if len(set(header)) != len(header):
        raise BadInput(where, "a column occurs twice")
    absent = [name for name in COLUMNS[:3] if name not in header]
    if absent:
        raise BadInput(where, f"missing column {', '.join(absent)}")


def _read_row(header: Sequence[str], line: str, where: str, number: int) -> tuple[Mark | None, list[BadInput]]:
    try:
        fields = _fields(line, where)
    except BadInput as problem:
        return None, [problem]
    left_off = header[len(fields) :]
    if len(fields) > len(header) or not set(left_off) <= set(FURTHER):
        return None, [BadInput(where, f"expected {len(header)} fields, came {len(fields)}")]
    return mark_of(dict(zip(header, [*fields, *("" for _ in left_off)], strict=True)), where, number)


def _fields(line: str, where: str) -> list[str]:
    try:
        return fields_of(line)
    except csv.Error as error:
        raise BadInput(where, f"expected fields with commas between them: {error}") from None


def _row(mark: Mark, header: Sequence[str]) -> str:
    cells = cells_of(mark)
    return line_of([cells[name] for name in header])


def _widened(line: str, more: Sequence[str]) -> str:
    end = _end_of(line)
    return "".join([line.removesuffix(end), *(f",{text}" for text in more), end])


def _end_of(line: str) -> str:
    return line[len(line.rstrip("\r\n")) :]


def _content(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None

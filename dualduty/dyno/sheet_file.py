"""The file of a dynamometer sheet: `# key: value` lines, a header that names the units, and rows of numbers.

Plain CSV, UTF-8, commas between columns, decimal points. Lines at the top tell about the test, unit in the key::

    # serial: MD-2104
    # oil_temperature_degc: 40
    # sign: compression_positive

Then a header and rows, of one of two kinds, told apart by their columns; `oil_temperature_degc` may be added to either:

- points, force against shaft speed: `compression_duty_pct`, `rebound_duty_pct`, `shaft_speed_m_s`, `force_n`, `repeat`,
  and `travel_mm` if known;
- loops, position and force over time: `time_ms`, `travel_mm`, `force_n`, `compression_duty_pct`, `rebound_duty_pct`, `repeat`.

Any unit of the same quantity may be named instead (`shaft_speed_mm_s`, `force_kn`). `force` is what the machine pushes
with, `sign` says which way speed and force count positive; travel always counts from full extension into compression.
"""

from __future__ import annotations

import csv
import difflib
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.units import UNITS, split_key, token_of, tokens_like

Array = NDArray[np.float64]

COLUMNS: Final = {
    "compression_duty": "%", "rebound_duty": "%", "shaft_speed": "m/s", "force": "N", "repeat": "1", "travel": "mm", "time": "ms",
    "oil_temperature": "°C",
}  # fmt: skip
POINTS: Final = ("compression_duty", "rebound_duty", "shaft_speed", "force", "repeat")
LOOPS: Final = ("time", "travel", "force", "compression_duty", "rebound_duty", "repeat")
_TOLD: Final = 5  # so many lines of one kind are told, the rest is counted
_DECIMAL_COMMA: Final = re.compile(r"^[-+]?\d+,\d+$")


@dataclass(frozen=True, eq=False)
class SheetFile:
    """A sheet as it stands in the file: facts as text with their line, columns in SI (temperatures in °C), lines of the rows."""

    path: Path
    facts: dict[str, tuple[int, str]]
    columns: dict[str, Array]
    lines: NDArray[np.int64]

    @property
    def has_loops(self) -> bool:
        """Whether the rows are position and force over time."""
        return "time" in self.columns


def place(path: Path, line: int) -> str:
    """Where a row stands, as messages say it."""
    return f"{path}: line {line}"


def tell_some(problems: list[BadInput], found: Iterable[BadInput], kind: str) -> None:
    """Add `found` to `problems`, all of one kind: the first few, and how many more there are."""
    several = list(found)
    problems += several[:_TOLD]
    if len(several) > _TOLD:
        problems.append(BadInput(several[_TOLD].where, f"and {len(several) - _TOLD} more {kind} from here on"))


def column_key(name: str) -> str:
    """A column as one would write it: `shaft_speed_m_s`."""
    token = token_of(COLUMNS[name])
    return name if token == "1" else f"{name}_{token}"


def read_sheet_file(path: Path, problems: list[BadInput]) -> SheetFile | None:
    """The file's facts and columns, or None where its rows can't be used; every problem is added to `problems`."""
    lines = _lines(path, problems)
    body = [(number, line) for number, line in enumerate(lines, 1) if line.strip() and not line.startswith("#")]
    facts = _facts(path, lines, problems)
    if not body:
        if lines:
            problems.append(BadInput(path, "expected a header and rows of numbers, found none"))
        return None
    before = len(problems)
    meaning = _header(path, *body[0], problems)
    if len(problems) > before:
        return None
    numbers = _rows(path, body[1:], [name for name, _ in meaning], problems)
    if len(problems) > before:
        return None
    columns = {name: np.ascontiguousarray(numbers[:, index] * factor) for index, (name, factor) in enumerate(meaning)}
    return SheetFile(path, facts, columns, np.array([number for number, _ in body[1:]], np.int64))


def _lines(path: Path, problems: list[BadInput]) -> list[str]:
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except FileNotFoundError:
        problems.append(BadInput(path, "expected a dynamometer sheet, found no file"))
    except OSError as error:
        problems.append(BadInput(path, f"can't be read: {error.strerror or error}"))
    except UnicodeDecodeError:
        problems.append(BadInput(path, "expected UTF-8 text"))
    else:
        if not lines:
            problems.append(BadInput(path, "expected a dynamometer sheet, the file is empty"))
        return lines
    return []


def _facts(path: Path, lines: Sequence[str], problems: list[BadInput]) -> dict[str, tuple[int, str]]:
    """`# key: value` lines; a `#` line without such a key is a remark."""
    found: dict[str, tuple[int, str]] = {}
    for number, line in enumerate(lines, 1):
        matched = re.match(r"^#\s*([a-z][a-z0-9_]*)\s*:\s*(.*?)[\s,;]*$", line)
        if not matched:
            continue
        key, said = matched.groups()
        if key in found:
            problems.append(BadInput(place(path, number), f"{key} stands on line {found[key][0]} already; expected it once"))
        found[key] = number, said
    return found


def _header(path: Path, number: int, line: str, problems: list[BadInput]) -> list[tuple[str, float]]:
    """Name and factor to SI of each column."""
    if "," not in line and (";" in line or "\t" in line):
        problems.append(BadInput(place(path, number), "expected commas between columns and decimal points, came semicolons or tabs"))
        return []
    found: list[tuple[str, float]] = []
    for key in (cell.strip() for cell in next(csv.reader([line]))):
        try:
            found.append(_column(key, place(path, number)))
        except BadInput as problem:
            problems.append(problem)
    names = [name for name, _ in found]
    twice = {name for name in names if names.count(name) > 1}
    problems += [BadInput(place(path, number), f"{name} occurs in {names.count(name)} columns; expected one") for name in sorted(twice)]
    wanted = LOOPS if "time" in names else POINTS
    missing = [column_key(name) for name in wanted if name not in names and len(names) == len(set(names))]
    if missing and len(found) == len(next(csv.reader([line]))):
        problems.append(BadInput(place(path, number), f"expected the columns {', '.join(missing)}; came {line.strip()}"))
    return found


def _column(key: str, where: str) -> tuple[str, float]:
    for name, said in COLUMNS.items():
        token = split_key(key, name)
        if token is None:
            continue
        if (token or "1") not in tokens_like(said):
            units = " or ".join(name + ("" if like == "1" else f"_{like}") for like in tokens_like(said))
            raise BadInput(where, f"column {key!r} must name its unit: expected {units}")
        return name, UNITS[token or "1"].factor
    near = difflib.get_close_matches(key, [column_key(name) for name in COLUMNS], n=1)
    raise BadInput(
        where, f"unknown column {key!r}; " + (f"did you mean {near[0]!r}?" if near else f"expected {', '.join(map(column_key, COLUMNS))}")
    )


def _rows(path: Path, body: Sequence[tuple[int, str]], names: Sequence[str], problems: list[BadInput]) -> Array:
    wrong: list[BadInput] = []
    numbers = np.full((len(body), len(names)), math.nan)
    for index, (number, line) in enumerate(body):
        try:
            numbers[index] = _row(next(csv.reader([line])), names, place(path, number))
        except BadInput as problem:
            wrong.append(problem)
    tell_some(problems, wrong, "bad rows")
    if not body:
        problems.append(BadInput(path, "expected rows of numbers below the header, found none"))
    return numbers


def _row(cells: Sequence[str], names: Sequence[str], where: str) -> list[float]:
    comma = next((cell for cell in cells if _DECIMAL_COMMA.match(cell.strip())), None)
    if comma is not None:
        raise BadInput(where, f"decimal comma in {comma!r}; expected a decimal point")
    if len(cells) != len(names):
        hint = "; are there decimal commas? expected decimal points" if len(cells) > len(names) else ""
        raise BadInput(where, f"expected {len(names)} numbers, came {len(cells)}{hint}")
    return [_number(cell, name, where) for cell, name in zip(cells, names, strict=True)]


def _number(cell: str, name: str, where: str) -> float:
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or "_" in cell:
        raise BadInput(where, f"expected a number for {name}, came {cell.strip()!r}")
    return value

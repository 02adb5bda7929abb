"""A measured profile: two wheel tracks over distance in a CSV file whose column names carry the units."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.units import UNITS, tokens_like
from plant.section_file import Place

Array = NDArray[np.float64]

COLUMNS: Final = ("distance", "left", "right")
LARGEST_GAP: Final = 2.0  # m; beyond that nobody knows what lies between


@dataclass(frozen=True)
class Profile:
    """Two tracks at rising distances, as measured.

    distance, left, right : (n,) arrays
        Distance, and height of each track, positive up. [m]
    """

    distance: Array
    left: Array
    right: Array


def read_profile(path: Path) -> Profile:
    """Read a profile; BadInput says file, row, what was expected and what came.

    The first row names the columns `distance`, `left` and `right`, each with a unit of length: `distance_m,left_mm,right_mm`.
    Lines that begin with # and empty lines are passed over. Distance rises from row to row, by 2 m at most.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = _rows(path, file)
            columns = _columns(*next(rows, (Place(str(path)), [])))
            found = [(place, _heights(place, row, columns)) for place, row in rows]
    except FileNotFoundError:
        raise BadInput(path, "expected a measured profile, found no such file") from None
    except OSError as error:
        raise BadInput(path, f"can't be read: {error.strerror}") from None
    except UnicodeDecodeError:
        raise BadInput(path, "expected UTF-8 text") from None
    if len(found) < 2:  # noqa: PLR2004 - a line needs two points
        raise BadInput(path, f"expected at least 2 rows of numbers, came {len(found)}")
    distance, left, right = np.ascontiguousarray(np.array([heights for _, heights in found]).T)
    _check_distance(distance, [place for place, _ in found])
    return Profile(distance, left, right)


def _rows(path: Path, file: Iterable[str]) -> Iterator[tuple[Place, list[str]]]:
    reader = csv.reader(file)
    try:
        for row in reader:
            if any(cell.strip() for cell in row) and not row[0].lstrip().startswith("#"):
                yield Place(str(path), f"row {reader.line_num}"), row
    except csv.Error as error:
        raise BadInput(f"{path}: row {reader.line_num}", f"expected rows of a CSV file: {error}") from None


def _columns(place: Place, head: list[str]) -> list[tuple[int, float]]:
    """Where each column stands, and its factor to metres."""
    names = [cell.strip() for cell in head]
    units = tokens_like("m")
    found = [(names.index(key), UNITS[unit].factor) for name in COLUMNS for unit in units if (key := f"{name}_{unit}") in names]
    if len(found) != len(COLUMNS) or len(names) != len(COLUMNS):
        expected = "expected the columns distance_m, left_mm and right_mm, or other units of length"
        raise place.bad(f"{expected}; came {', '.join(names) or 'nothing'}")
    return found


def _heights(place: Place, row: list[str], columns: list[tuple[int, float]]) -> tuple[float, ...]:
    if len(row) != len(columns):
        raise place.bad(f"expected {len(columns)} numbers, came {len(row)}: {', '.join(row)}")
    return tuple(_number(place, row[at]) * factor for at, factor in columns)


def _number(place: Place, cell: str) -> float:
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise place.bad(f"expected a number, came {cell.strip()!r}")
    return value


def _check_distance(distance: Array, places: list[Place]) -> None:
    gap = np.diff(distance)
    wrong = np.flatnonzero(~((gap > 0) & (gap <= LARGEST_GAP)))
    if wrong.size:
        row = int(wrong[0]) + 1
        came = f"{distance[row]:g} m after {distance[row - 1]:g} m"
        raise places[row].bad(f"expected a distance above the one before, by up to {LARGEST_GAP:g} m; came {came}")

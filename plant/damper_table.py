"""Damper maps as the plant's kernel reads them: the same bilinear surface, laid out so that its place is found at once.

A table is: rows, columns, cells per m/s, number of cells; for each cell the row in which it begins; speeds, 1/differences
of speeds, duties, 1/differences of duties, then the forces row by row.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.damper_map import DamperMap
from dualduty.kernels import inline
from plant.rows import Number

Array = NDArray[np.float64]

_HEAD: Final = 4
_CELLS: Final = 64


def packed_map(damper_map: DamperMap) -> Array:
    """The table of a damper map, a (n,) array."""
    speeds, duties, forces = damper_map.speeds, damper_map.duties, damper_map.forces
    per_speed = _CELLS / speeds[-1]
    begins = np.searchsorted(speeds, np.arange(_CELLS) / per_speed, side="right") - 1
    begins = np.minimum(begins, len(speeds) - 2)
    head = [float(len(speeds)), float(len(duties)), per_speed, float(_CELLS)]
    return np.concatenate([head, begins, speeds, _reciprocals(speeds), duties, _reciprocals(duties), forces.ravel()])


def _reciprocals(points: Array) -> Array:
    return np.append(1.0 / np.diff(points), 0.0)


@inline
def column_at(table: Array, duties: int, columns: int, duty: float) -> tuple[int, float]:
    """Tested duty below `duty`, and the share on to the next one."""
    column = 0
    while column < columns - 2 and duty >= table[duties + column + 1]:
        column += 1
    return column, (duty - table[duties + column]) * table[duties + columns + column]


@inline
def map_force(table: Array, start: int, speed: float, duty: float) -> tuple[float, float]:
    """Force [N] at a speed of 0 or more [m/s] and a duty 0..1, and 1 beyond the last tested speed."""
    rows, columns, cells = int(table[start]), int(table[start + 1]), int(table[start + 3])
    speeds = start + _HEAD + cells
    cell = speed * table[start + 2]
    row = int(table[start + _HEAD + int(cell)]) if cell < cells else rows - 2
    while row < rows - 2 and speed >= table[speeds + row + 1]:
        row += 1
    duties = speeds + 2 * rows
    column, share = column_at(table, duties, columns, duty)
    at = duties + 2 * columns + row * columns + column
    low = table[at] + share * (table[at + 1] - table[at])
    high = table[at + columns] + share * (table[at + columns + 1] - table[at + columns])
    along = (speed - table[speeds + row]) * table[speeds + rows + row]
    return low + along * (high - low), 1.0 if speed > table[speeds + rows - 1] else 0.0


@inline
def map_speed(table: Array, start: int, force: float, duty: float) -> tuple[float, float, float]:
    """Speed [m/s] at which a force of 0 or more [N] is given, the slope there [N·s/m], and 1 beyond the last tested speed."""
    rows, columns = int(table[start]), int(table[start + 1])
    speeds = start + _HEAD + int(table[start + 3])
    duties = speeds + 2 * rows
    column, share = column_at(table, duties, columns, duty)
    at = duties + 2 * columns + column
    low = table[at] + share * (table[at + 1] - table[at])
    at += columns
    high = table[at] + share * (table[at + 1] - table[at])
    row = 0
    while row < rows - 2 and force > high:
        row, low, at = row + 1, high, at + columns
        high = table[at] + share * (table[at + 1] - table[at])
    slope = max((high - low) * table[speeds + rows + row], 1.0)
    return max(table[speeds + row] + (force - low) / slope, 0.0), slope, 1.0 if force > high else 0.0


def packed_zone(travels: Array, multipliers: Array) -> Array:
    """The table of a position zone: number of points, travels [m], multipliers [1]."""
    return np.concatenate([[float(len(travels))], travels, multipliers])


@inline
def zone_multiplier(tables: Array, start: int, travel: float) -> Number:
    """Multiplier of a position zone at a shaft travel [m]: straight between points, held at the ends; 1 where there is no zone."""
    if start < 0:
        return 1.0
    points = int(tables[start])
    first = start + 1
    if travel <= tables[first]:
        return tables[first + points]
    index = 0
    while index < points - 2 and travel >= tables[first + index + 1]:
        index += 1
    low, high = tables[first + index], tables[first + index + 1]
    share = min((travel - low) / (high - low), 1.0)
    return tables[first + points + index] + share * (tables[first + points + index + 1] - tables[first + points + index])

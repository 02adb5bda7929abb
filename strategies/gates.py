"""How far a layer is open at a corner: by states, by role, and by what is lost."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import inline

Array = NDArray[np.float64]

ALWAYS, BY_STATE, LEADING, TRAILING = 0, 1, 2, 3  # when a role holds
THIS_CORNER, ANY, EVERY = 1, 2, 3  # which rows of a lost channel close a layer


@inline
def role_of(layer: Any, board: Array, at: int, corner: int) -> float:
    """1 where the layer's roles hold for a corner; a layer without roles holds everywhere."""
    if layer.roles == 0:
        return 1.0
    for index in range(layer.roles):
        if layer.role_corners[index, corner] > 0:
            kind, row = layer.role_kind[index], layer.role_row[index]
            if kind == ALWAYS or (kind == BY_STATE and board[row + corner, at] > 0.0):
                return 1.0
            if kind >= LEADING and (board[row, at] >= 0.0) == ((corner < 2) == (kind == LEADING)):
                return 1.0
    return 0.0


@inline
def opened_by(layer: Any, first: int, last: int, board: Array, at: int, corner: int, follows: float) -> float:  # noqa: PLR0913
    """How far some of the states that open a layer do so; any of them is enough."""
    opened = 0.0
    for index in range(first, last):
        active, strength = board[layer.when[index] + corner, at], board[layer.when_strength[index] + corner, at]
        opened = max(opened, active * (1.0 - follows * (1.0 - strength)))
    return opened


@inline
def left_open(layer: Any, first: int, last: int, board: Array, at: int, corner: int) -> float:
    """What some of the states that close a layer leave open."""
    left = 1.0
    for index in range(first, last):
        left *= 1.0 - board[layer.unless[index] + corner, at]
    return left


@inline
def open_to_vehicle(layer: Any, board: Array, at: int, follows: float) -> tuple[float, float]:
    """How far states of the whole vehicle open a layer, and what they leave open: the same at every corner."""
    opened = 1.0 if layer.whens == 0 else opened_by(layer, 0, layer.vehicle_when, board, at, 0, follows)
    return opened, left_open(layer, 0, layer.vehicle_unless, board, at, 0)


@inline
def gate_of(layer: Any, board: Array, at: int, corner: int, follows: float, of_vehicle: float, left: float) -> float:  # noqa: PLR0913
    """How far a layer is to be open at a corner: by states of the vehicle, by its own, and by its role."""
    gate = max(of_vehicle, opened_by(layer, layer.vehicle_when, layer.whens, board, at, corner, follows))
    return float(
        gate * left * left_open(layer, layer.vehicle_unless, layer.unlesses, board, at, corner) * role_of(layer, board, at, corner)
    )


@inline
def closed_by_loss(needs: Array, index: int, lost: Array, at: int, corner: int, corner_of_row: Array) -> bool:
    """Whether a lost channel takes the layer out at a corner."""
    for row in range(needs.shape[1]):
        need = needs[index, row]
        if need == ANY and lost[row, at] > 0.0:
            return True
        if need == THIS_CORNER and corner_of_row[row] == corner and lost[row, at] > 0.0:
            return True
        if need == EVERY and corner_of_row[row] == 0:
            every = lost[row, at] * lost[row + 1, at] * lost[row + 2, at] * lost[row + 3, at]
            if every > 0.0:
                return True
    return False

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
    """1 where the layer's roles hold for a corner."""
    for index in range(layer.roles):
        if layer.role_corners[index, corner] > 0:
            kind, row = layer.role_kind[index], layer.role_row[index]
            if kind == ALWAYS or (kind == BY_STATE and board[row + corner, at] > 0.0):
                return 1.0
            if kind >= LEADING and (board[row, at] >= 0.0) == ((corner < 2) == (kind == LEADING)):
                return 1.0
    return 0.0


@inline
def open_by(layer: Any, first: int, last: int, board: Array, corner: int, follows: Array, opened: Array) -> None:  # noqa: PLR0913
    """Raise `opened` to how far some of the states that open a layer do so; any of them is enough."""
    cases = follows.size
    for index in range(first, last):
        row, strength_row = layer.when[index] + corner, layer.when_strength[index] + corner
        for at in range(opened.size):
            follow = follows[0] if cases == 1 else follows[at % cases]
            opened[at] = max(opened[at], board[row, at] * (1.0 - follow * (1.0 - board[strength_row, at])))


@inline
def leave_open(layer: Any, first: int, last: int, board: Array, corner: int, left: Array) -> None:
    """Lower `left` to what some of the states that close a layer leave open."""
    for index in range(first, last):
        row = layer.unless[index] + corner
        for at in range(left.size):
            left[at] *= 1.0 - board[row, at]


@inline
def gates_of_vehicle(layer: Any, board: Array, follows: Array, opened: Array, left: Array) -> None:
    """How far states of the whole vehicle open a layer, and what they leave open: the same at every corner."""
    for at in range(opened.size):
        opened[at] = 1.0 if layer.whens == 0 else 0.0
        left[at] = 1.0
    open_by(layer, 0, layer.vehicle_when, board, 0, follows, opened)
    leave_open(layer, 0, layer.vehicle_unless, board, 0, left)


@inline
def gates_of_corner(layer: Any, board: Array, corner: int, follows: Array, of_vehicle: Array, left: Array, gate: Array, own: Array) -> None:  # noqa: PLR0913, PLR0917
    """How far a layer is to be open at a corner: by states of the vehicle, by its own (with `own` as scratch), by its role."""
    for at in range(gate.size):
        gate[at] = 0.0
        own[at] = 1.0
    open_by(layer, layer.vehicle_when, layer.whens, board, corner, follows, gate)
    leave_open(layer, layer.vehicle_unless, layer.unlesses, board, corner, own)
    for at in range(gate.size):
        gate[at] = max(of_vehicle[at], gate[at]) * left[at] * own[at]
    if layer.roles > 0:
        for at in range(gate.size):
            gate[at] *= role_of(layer, board, at, corner)


@inline
def closed_by_loss(needs: Array, index: int, lost: Array, corner: int, corner_of_row: Array, ever: Array, lacks: Array) -> bool:  # noqa: PLR0913
    """Where lost channels take a layer out at a corner, as 1 in `lacks`; says whether any does. `ever` is 1 for rows ever lost."""
    closes = False
    for at in range(lacks.size):
        lacks[at] = 0.0
    for row in range(lost.shape[0]):
        need = needs[index, row]
        if ever[row] == 0.0 or need == 0:
            continue
        if need == ANY or (need == THIS_CORNER and corner_of_row[row] == corner):
            closes = True
            for at in range(lacks.size):
                lacks[at] = max(lacks[at], lost[row, at])
        elif need == EVERY and corner_of_row[row] == 0:
            closes = True
            for at in range(lacks.size):
                every = lost[row, at] * lost[row + 1, at] * lost[row + 2, at] * lost[row + 3, at]
                lacks[at] = max(lacks[at], every)
    return closes


@inline
def note_lost(lost: Array, ever: Array) -> None:
    """Which channels are lost at any time; mostly none, and the rest need no look."""
    for row in range(lost.shape[0]):
        most = 0.0
        for at in range(lost.shape[1]):
            most = max(most, lost[row, at])
        ever[row] = most


@inline
def settled(gate: Array, started: float, share: float) -> bool:
    """Whether fades have nothing to do: every gate is where the share already is."""
    moves = 0
    for at in range(gate.size):
        moves += 0 if gate[at] == share else 1
    return started == 1.0 and moves == 0


@inline
def weigh(corner: int, cases: int, own: Array, gate: Array) -> bool:
    """Multiply shares with the weights of a layer at a corner; says whether any is left. `own` is (1 or case, field)."""
    open_ticks = 0
    for at in range(gate.size):
        case = 0 if own.shape[0] == 1 else at % cases
        gate[at] *= own[case, corner] * own[case, 4]
        open_ticks += 1 if gate[at] != 0.0 else 0
    return open_ticks > 0

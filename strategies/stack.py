"""The stack of layers as one compiled pass: gates, fades, joined forces, and how each layer acts on what lies beneath."""

from __future__ import annotations

from typing import Any, Final

import numba
import numpy as np
from numba import types
from numpy.typing import NDArray

from dualduty.calibration.model import MOST_OF_A_LAYER as MOST
from dualduty.cells import slew
from dualduty.damper_map import map_duty, map_force
from dualduty.kernels import I8, IN1, IN2, IN3, OUT2, OUT3, inline, kernel
from dualduty.trace import FLAG_CLAMP, FLAG_FAULT, FLAG_TRIM
from strategies.gates import closed_by_loss, gate_of, open_to_vehicle

Array = NDArray[np.float64]

DECIDES_AT_WEIGHT: Final = 0.5
DECIDES_BY_DUTY: Final = 0.0025  # a quarter of a per cent of duty

SET, ADD, RAISE, CAP = 0, 1, 2, 3
ACTS: Final = {"set": SET, "add": ADD, "raise": RAISE, "cap": CAP}
FLOORS: Final = (ADD, RAISE)  # wanting less than the softest is no shortfall of the map where a layer only adds firmness
MAX, SUM = 0, 1
JOINS: Final = {"max": MAX, "sum": SUM}

LAYER: Final = np.dtype(
    [
        ("act", np.int64), ("join", np.int64), ("laws", np.int64), ("roles", np.int64),
        ("whens", np.int64), ("vehicle_when", np.int64), ("unlesses", np.int64), ("vehicle_unless", np.int64),
        ("when", np.int64, (MOST,)), ("when_strength", np.int64, (MOST,)), ("unless", np.int64, (MOST,)),
        ("compression", np.int64, (MOST,)), ("rebound", np.int64, (MOST,)), ("asks", np.int64, (2,)), ("force", np.int64),
        ("role_kind", np.int64, (MOST,)), ("role_row", np.int64, (MOST,)), ("role_corners", np.int64, (MOST, 4)),
    ]
)  # fmt: skip
FIELDS: Final = 8  # of a layer's values: four weights, enabled, fade in and out per tick, how far it follows the strength
STATE: Final = 8  # of a layer's memory: for each corner whether it started, and its share
STOOD_IN: Final = 2.0  # in place of "started" at the base: the fallback still lies beneath

_LAYERS: Final = types.Array(numba.from_dtype(LAYER), 1, "C", readonly=True)
_ROWS: Final = types.Array(types.int64, 1, "C", readonly=True)
_NEEDS: Final = types.Array(types.int64, 2, "C", readonly=True)
_DECIDED: Final = types.Array(types.int16, 2, "C")
_FLAGS: Final = types.Array(types.uint8, 2, "C")


@inline
def acted(act: int, below: float, share: float, wanted: float) -> float:
    """Duty after a layer acts on `below` with `wanted`, to the share 0..1; what is added stays within 0..1."""
    if act == ADD:
        return min(max(below + share * wanted, 0.0), 1.0)
    if act == RAISE:
        wanted = max(wanted, below)
    elif act == CAP:
        wanted = min(wanted, below)
    if share == 1.0:  # fully open is what was asked for, to the bit
        return wanted
    return below + share * (wanted - below)


@inline
def joined(layer: Any, board: Array, at: int, corner: int, rebound: int) -> float:
    """What the laws of a layer ask for on one side, together."""
    total = 0.0
    first = True
    for index in range(layer.laws):
        row = layer.rebound[index] if rebound else layer.compression[index]
        if row >= 0:
            asked = board[row + corner, at]
            if first:
                total = asked
            elif layer.join == SUM:
                total += asked
            else:
                total = max(total, asked)
            first = False
    return total


@inline
def as_duty(layer: Any, board: Array, maps: Array, places: Array, at: int, side: int, force: float, below: float) -> tuple[float, float]:  # noqa: PLR0913, PLR0917
    """Duty for a wanted force at the side's reference speed, and 1 where the force lies outside the map."""
    corner, rebound = side % 4, side // 4
    table = places[2 * rebound + (0 if corner < 2 else 1)]
    speed = max(board[places[4 + rebound] + corner, at], 0.0)
    if layer.act == ADD:  # the force is added in newtons: what comes back is the whole duty
        duty, clamped = map_duty(maps, table, speed, force + map_force(maps, table, speed, min(max(below, 0.0), 1.0)))
        return duty - below, clamped
    return map_duty(maps, table, speed, force)  # type: ignore[no-any-return]


@inline
def note_decision(act: int, share: float, moved: float, index: int, decided: Array, flags: Array, side: int, at: int) -> None:  # noqa: PLR0913, PLR0917
    """Who decided a side, and whether a trim moved it."""
    far = abs(moved) > DECIDES_BY_DUTY
    if act == ADD:
        if far:
            flags[side, at] |= FLAG_TRIM
    elif (share >= DECIDES_AT_WEIGHT) if act == SET else far:
        decided[side, at] = index


@inline
def lay(  # noqa: PLR0913, PLR0917
    layer: Any, index: int, board: Array, maps: Array, places: Array, at: int, side: int, share: float,
    asked: Array, decided: Array, flags: Array,
) -> float:  # fmt: skip
    """Lay one side of a layer on `asked`; returns the duty it wanted."""
    below = asked[side, at]
    wanted = joined(layer, board, at, side % 4, side // 4)
    if layer.force > 0 and wanted <= 0.0 and (layer.act == RAISE or (layer.act == ADD and wanted == 0.0)):
        wanted = 0.0  # no force is asked for: nothing to look up in the map, and most sides most of the time
    elif layer.force > 0:
        wanted, clamped = as_duty(layer, board, maps, places, at, side, wanted, below)
        if clamped > 0.0 and share > 0.0 and (wanted > 0.0 or not FLOORS[0] <= layer.act <= FLOORS[1]):
            flags[side, at] |= FLAG_CLAMP
    after = acted(layer.act, below, share, wanted)
    asked[side, at] = after
    note_decision(layer.act, share, after - below, index, decided, flags, side, at)
    return float(wanted)


@inline
def clear(asked: Array, closed: Array, decided: Array, flags: Array, lost: Array, at: int) -> bool:
    """Soft everywhere, decided by the first layer; says whether any channel is lost."""
    for side in range(8):
        asked[side, at] = 0.0
        closed[side, at] = 0.0
        decided[side, at] = 0
        flags[side, at] = 0
    any_lost = False
    for row in range(lost.shape[0]):
        any_lost = any_lost or lost[row, at] > 0.0
    return any_lost


@inline
def not_a_number(board: Array, first: int, at: int) -> float:
    """0, or not a number where any demand isn't one, whether its layer is open or not."""
    total = 0.0
    for row in range(first, board.shape[0]):
        total += 0.0 * board[row, at]
    return total


@inline
def note_loss(  # noqa: PLR0913, PLR0917
    index: int, asked: Array, closed: Array, fallback: Array, case: int, corner: int, at: int, flags: Array
) -> None:
    """Flag a layer that a lost channel closes; in place of the base, let the fallback stand until the base is back in full."""
    for side in range(corner, 8, 4):
        flags[side, at] |= FLAG_FAULT
        if index == 0:
            closed[side, at] = 1.0
            asked[side, at] = fallback[side, case, 0]


@inline
def lay_corner(  # noqa: PLR0913, PLR0917
    layer: Any, index: int, board: Array, maps: Array, places: Array, at: int, corner: int, share: float, asked: Array, decided: Array,
    flags: Array, rec_asked: Array, rec_share: Array, rec_after: Array,
) -> None:  # fmt: skip
    """Lay both sides of a layer at a corner, and note it where that is wanted."""
    record = rec_asked.shape[0] > 0
    for side in range(corner, 8, 4):
        if record:
            rec_share[index, side, at], rec_after[index, side, at] = share, asked[side, at]
        if layer.asks[side // 4] > 0:
            wanted = lay(layer, index, board, maps, places, at, side, share, asked, decided, flags)
            if record:
                rec_asked[index, side, at], rec_after[index, side, at] = wanted, asked[side, at]


@kernel(
    _LAYERS, IN2, IN3, OUT2, IN1, _ROWS, IN3, IN2, _NEEDS, _ROWS, OUT2, OUT2, _DECIDED, _FLAGS, OUT3, OUT3, OUT3, I8, I8
)  # fmt: skip
def stack_kernel(  # noqa: PLR0913, PLR0917 - one pass over all that a stack has, array by array
    layers: Any, board: Array, values: Array, memory: Array, maps: Array, places: Array, fallback: Array, lost: Array, needs: Array,
    corner_of_row: Array, asked: Array, closed: Array, decided: Array, flags: Array, rec_asked: Array, rec_share: Array, rec_after: Array,
    ticks: int, cases: int,
) -> None:  # fmt: skip
    """Lay all layers on, for every tick and case.

    layers : (layer,) records
        What each layer does, by row of the board.
    board : (row, tick x case) array
        Signals, quantities, states, strengths and demands.
    values : (1 or case, layer, field) array
        What can be calibrated on a layer.
    memory : (case, layer x STATE) array
        Shares so far; advanced.
    maps, places
        Packed damper maps and where they start: compression front and rear, rebound front and rear; then the first rows
        of the reference speeds, -1 without force laws, and of the demands.
    fallback : (8, 1 or case, 1) array
        Duty beneath a base that is closed by a lost channel. [1]
    lost : (signal row, tick x case) array
        1 where a channel counts as lost.
    needs : (layer, signal row) array
        Which lost rows close a layer.
    asked, closed : (8, tick x case) arrays
        Duty of the stack; 1 where the fallback stands in for the base.
    decided, flags : (8, tick x case) arrays
        Which layer decided; trim and clamp flags.
    rec_asked, rec_share, rec_after : (layer, 8, tick x case) arrays
        What each layer asked for, its share and the duty after it; without layers nothing is recorded.
    """
    record = rec_asked.shape[0] > 0
    for at in range(ticks * cases):
        case = at % cases
        of_layers = values[min(case, values.shape[0] - 1)]
        any_lost = clear(asked, closed, decided, flags, lost, at)
        for index in range(layers.shape[0]):
            layer, own = layers[index], of_layers[index]
            of_vehicle, left = open_to_vehicle(layer, board, at, own[7])
            for corner in range(4):
                gate = gate_of(layer, board, at, corner, own[7], of_vehicle, left)
                own_state = index * STATE + 2 * corner
                lacks = any_lost and closed_by_loss(needs, index, lost, at, corner, corner_of_row)
                stood_in = memory[case, own_state] == STOOD_IN
                gate = 0.0 if lacks else gate
                share = slew(memory[case], own_state, gate, own[5], own[6])
                if lacks or (stood_in and share != gate):
                    note_loss(index, asked, closed, fallback, min(case, fallback.shape[1] - 1), corner, at, flags)
                    memory[case, own_state] = STOOD_IN if index == 0 else 1.0
                share *= own[corner] * own[4]
                if share != 0.0 or record:
                    lay_corner(layer, index, board, maps, places, at, corner, share, asked, decided, flags, rec_asked, rec_share, rec_after)
        told = not_a_number(board, places[6], at)
        for side in range(8):
            asked[side, at] += told

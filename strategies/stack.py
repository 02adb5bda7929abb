"""The stack of layers as one compiled pass: gates, fades, joined forces, and how each layer acts on what lies beneath."""

from __future__ import annotations

from typing import Any, Final

import numba
import numpy as np
from numba import types
from numpy.typing import NDArray

from dualduty.calibration.model import MOST_OF_A_LAYER as MOST
from dualduty.damper_map import map_duty, map_force
from dualduty.kernels import I8, IN1, IN2, IN3, OUT2, OUT3, inline, kernel
from dualduty.trace import FLAG_CLAMP, FLAG_FAULT, FLAG_TRIM
from strategies.gates import closed_by_loss, gates_of_corner, gates_of_vehicle, note_lost, settled, weigh

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
def join(layer: Any, board: Array, side: int, wanted: Array) -> None:
    """What the laws of a layer ask for on one side, together."""
    corner, first = side % 4, True
    for index in range(layer.laws):
        row = layer.rebound[index] if side >= 4 else layer.compression[index]
        if row >= 0:
            row += corner
            for at in range(wanted.size):
                if first:
                    wanted[at] = board[row, at]
                elif layer.join == SUM:
                    wanted[at] += board[row, at]
                else:
                    wanted[at] = max(wanted[at], board[row, at])
            first = False


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
    layer: Any, index: int, board: Array, maps: Array, places: Array, side: int, record: bool, share: Array, wanted: Array,
    asked: Array, decided: Array, flags: Array,
) -> None:  # fmt: skip
    """Lay one side of a layer on `asked` where it is open; `wanted` becomes the duty it wanted."""
    join(layer, board, side, wanted)
    floor = layer.act in FLOORS
    for at in range(wanted.size):
        part, below, asks = share[at], asked[side, at], wanted[at]
        if part == 0.0 and not record:
            continue
        if layer.force > 0 and asks <= 0.0 and (layer.act == RAISE or (layer.act == ADD and asks == 0.0)):
            asks = 0.0  # no force is asked for: nothing to look up in the map, and most sides most of the time
        elif layer.force > 0:
            asks, clamped = as_duty(layer, board, maps, places, at, side, asks, below)
            if clamped > 0.0 and part > 0.0 and (asks > 0.0 or not floor):
                flags[side, at] |= FLAG_CLAMP
        after = acted(layer.act, below, part, asks)
        asked[side, at], wanted[at] = after, asks
        note_decision(layer.act, part, after - below, index, decided, flags, side, at)


@inline
def clear(asked: Array, closed: Array, decided: Array, flags: Array, width: int) -> None:
    """Soft everywhere, decided by the first layer."""
    for side in range(8):
        for at in range(width):
            asked[side, at] = 0.0
            closed[side, at] = 0.0
            decided[side, at] = 0
            flags[side, at] = 0


@inline
def spread_not_a_number(board: Array, first: int, asked: Array, told: Array) -> None:
    """Make a duty not a number where any demand isn't one, whether its layer is open or not."""
    for at in range(told.size):
        told[at] = 0.0
    for row in range(first, board.shape[0]):
        for at in range(told.size):
            told[at] += 0.0 * board[row, at]
    for side in range(8):
        for at in range(told.size):
            asked[side, at] += told[at]


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
def fade(  # noqa: PLR0913, PLR0917
    index: int, corner: int, case: int, cases: int, own: Array, state: Array, fallback: Array, lacks: Array, gate: Array,
    asked: Array, closed: Array, flags: Array,
) -> None:  # fmt: skip
    """Make of the gates of a layer at a corner its shares, in one case: with fades, and closed by what is lost."""
    slot = index * STATE + 2 * corner
    started, last = state[slot], state[slot + 1]
    for tick in range(gate.size // cases):
        at = tick * cases + case
        lost = lacks[at] > 0.0
        wanted = 0.0 if lost else gate[at]
        if started == 0.0:
            last = wanted
        if last != wanted:
            last = min(max(wanted, last - own[6]), last + own[5])
        if lost or (started == STOOD_IN and last != wanted):
            note_loss(index, asked, closed, fallback, min(case, fallback.shape[1] - 1), corner, at, flags)
            started = STOOD_IN if index == 0 else 1.0
        else:
            started = 1.0
        gate[at] = last
    state[slot], state[slot + 1] = started, last


@inline
def note_share(index: int, side: int, what: Array, asked: Array, into: Array, after: Array) -> None:
    """Note a share, or what was wanted, and the duty as it is."""
    for at in range(what.size):
        into[index, side, at], after[index, side, at] = what[at], asked[side, at]


@inline
def lay_corner(  # noqa: PLR0913, PLR0917
    layer: Any, index: int, board: Array, maps: Array, places: Array, corner: int, acts: bool, share: Array, wanted: Array,
    asked: Array, decided: Array, flags: Array, rec_asked: Array, rec_share: Array, rec_after: Array,
) -> None:  # fmt: skip
    """Lay both sides of a layer at a corner where it acts, and note it where that is wanted."""
    record = rec_asked.shape[0] > 0
    for side in range(corner, 8, 4):
        if record:
            note_share(index, side, share, asked, rec_share, rec_after)
        if layer.asks[side // 4] > 0 and (acts or record):
            lay(layer, index, board, maps, places, side, record, share, wanted, asked, decided, flags)
            if record:
                note_share(index, side, wanted, asked, rec_asked, rec_after)


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
    width = ticks * cases
    scratch, ever = np.empty((5, width)), np.empty(lost.shape[0])
    of_vehicle, left, share, wanted, lacks = scratch[0], scratch[1], scratch[2], scratch[3], scratch[4]
    clear(asked, closed, decided, flags, width)
    note_lost(lost, ever)
    for index in range(layers.shape[0]):
        layer, of_layer = layers[index], values[:, index]
        gates_of_vehicle(layer, board, of_layer[:, 7], of_vehicle, left)
        for corner in range(4):
            gates_of_corner(layer, board, corner, of_layer[:, 7], of_vehicle, left, share, wanted)
            slot = index * STATE + 2 * corner
            closes = closed_by_loss(needs, index, lost, corner, corner_of_row, ever, lacks)
            if closes or cases > 1 or not settled(share, memory[0, slot], memory[0, slot + 1]):
                for case in range(cases):
                    own = of_layer[min(case, values.shape[0] - 1)]
                    fade(index, corner, case, cases, own, memory[case], fallback, lacks, share, asked, closed, flags)
            acts = weigh(corner, cases, of_layer, share)
            lay_corner(
                layer, index, board, maps, places, corner, acts, share, wanted, asked, decided, flags, rec_asked, rec_share, rec_after
            )
    spread_not_a_number(board, places[6], asked, left)

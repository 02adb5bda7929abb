"""A log with channels exchanged and turned round in memory, never in the file: for what must be worked out after a slip of the map."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from replay.health.mounting_identity import FORCES, RATES, MountingIdentity
from replay.health.slow_copy import SlowMotion
from replay.health.travel_identity import TravelIdentity
from replay.log import Log, LogPart

if TYPE_CHECKING:
    from replay.health.channels import Channels

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Move:
    """What a row is made of: `sign * source + shift`. [SI]"""

    source: int
    sign: float
    shift: float = 0.0


Moves = Mapping[int, Move]


def travel_moves(identity: TravelIdentity, channels: Channels, zeros: Array) -> dict[int, Move]:
    """Moves that bring each travel to its corner, right way round; `zeros` (4,) as for `travel_findings`. [m]"""
    rows = {row.corner: row.index for row in channels.of("shaft_travel")}
    moves = {}
    for channel, index in rows.items():
        target, sign = rows.get(identity.corner[channel]), identity.sign[channel]
        shift = 0.0 if sign > 0.0 or np.isnan(zeros[channel]) else float(zeros[channel])
        if target is not None and (target != index or sign < 0.0):
            moves[target] = Move(index, sign, shift)
    return moves


def mounting_moves(identity: MountingIdentity, channels: Channels) -> dict[int, Move]:
    """Moves that bring the axes of the inertial unit to the vehicle's."""
    moves = {}
    for names in (FORCES, RATES):
        rows = [next((row.index for row in channels.of(name)), -1) for name in names]
        for k, axis in enumerate(identity.axes):
            a = next(index for index, part in enumerate(axis) if part)
            sign = axis[a] * (-1.0 if names[k] == identity.flipped else 1.0)
            if rows[k] >= 0 and rows[a] >= 0 and (a != k or sign < 0.0):
                moves[rows[k]] = Move(rows[a], sign)
    return moves


def moved(motion: SlowMotion, moves: Moves) -> SlowMotion:
    """A slow copy put right."""
    if not moves:
        return motion
    copy = motion.copy.copy()
    for target, move in moves.items():
        if target in motion.place and move.source in motion.place:
            copy[motion.place[target]] = move.sign * motion.copy[motion.place[move.source]] + move.shift
    return replace(motion, copy=copy)


@dataclass
class PutRight(Log):
    """A log whose parts are put right as they pass by; rows stay in their streams, so a row from another clock is left as it is."""

    moves: Moves = field(default_factory=dict)

    def parts(self, needed: Collection[str] | None = None) -> Iterator[LogPart]:
        """As of any log."""
        for part in super().parts(needed):
            yield self._moved(part)

    def _moved(self, part: LogPart) -> LogPart:
        place = {int(row): at for at, row in enumerate(part.rows)}
        mine = {target: move for target, move in self.moves.items() if target in place and move.source in place}
        if not mine or not len(part.time):
            return part
        values = part.values.copy()
        for target, move in mine.items():
            values[place[target]] = move.sign * part.values[place[move.source]] + move.shift
        return replace(part, values=values)


def put_right(log: Log, moves: Moves) -> Log:
    """The log itself where nothing is to be moved, else one over the same recording."""
    return PutRight(log.recording, log.channel_map, log.resolved, moves=moves) if moves else log

"""The whole check of a log's health in one pass over it, and what is worked out from the slow copy afterwards."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.health.alignment import alignment
from replay.health.believable import unbelievable
from replay.health.channels import Channels, channels_of
from replay.health.clock_gaps import ClockGaps
from replay.health.clock_jitter import ClockJitter
from replay.health.dropouts import Dropouts
from replay.health.finding import IMPAIRS, Finding, in_order
from replay.health.identity_findings import SURE, mounting_findings, travel_findings
from replay.health.marker_presses import MarkerPresses
from replay.health.mounting_identity import identify_mounting
from replay.health.put_right import Move, Moves, mounting_moves, moved, travel_moves
from replay.health.quantisation import Quantisation
from replay.health.ride_height import ride_height
from replay.health.saturation import Saturation
from replay.health.slow_copy import RATE, SlowCopy, SlowMotion
from replay.health.spikes import Spikes
from replay.health.stamps import stamp_findings
from replay.health.stuck import Stuck
from replay.health.travel_identity import identify_travels
from replay.health.travel_zero import zeros_of_turned
from replay.health.wheel_scale import wheel_scale
from replay.health.witnesses import WHEELBASE, Witnesses, witnesses

if TYPE_CHECKING:
    from replay.log import Log, LogPart

Array = NDArray[np.float64]


class Finder(Protocol):
    """Looks at parts as they pass by, and tells at the end."""

    def see(self, part: LogPart) -> None:
        """Take in the next part."""

    def end(self, motion: SlowMotion) -> list[Finding]:
        """What was found."""


FINDERS: tuple[Callable[[Channels], Finder], ...] = (ClockGaps, ClockJitter, Dropouts, Stuck, Spikes, Saturation, Quantisation)


@dataclass(frozen=True)
class VehicleFacts:
    """What the check may know of the vehicle: (4,) arrays by corner. [m]"""

    wheelbase: float
    static_travel: Array
    hang_travel: Array


@dataclass(frozen=True)
class Health:
    """What a log is like.

    `presses` are the times at which the marker button was pressed, None where the log has no such channel [s]; `moves` puts
    right in memory what was surely found exchanged or turned; `motion` is the slow copy, put right; `lasts` [s].
    """

    log: str
    lasts: float
    findings: tuple[Finding, ...]
    presses: tuple[float, ...] | None
    channels: Channels
    moves: Moves
    motion: SlowMotion


def check_log(log: Log, vehicle: VehicleFacts | None = None, progress: Callable[[float], None] | None = None) -> Health:
    """Read a log once and tell what is wrong with it; nothing is repaired and nothing written."""
    channels = channels_of(log)
    finders = [make(channels) for make in FINDERS]
    slow, presses = SlowCopy(channels), MarkerPresses(channels)
    lasts = 0.0
    watching = [slow.see, presses.see, *(finder.see for finder in finders)]
    for part in log.parts(needed=()):
        for see in watching:
            see(part)
        lasts = max(lasts, float(part.time[-1])) if len(part.time) else lasts
        if progress is not None:
            progress(part.done)
    if lasts < 1.0 / RATE:
        raise BadInput(log.name, f"expected a log of a second or more, it lasts {lasts:.3g} s")
    raw = slow.end()
    findings = [found for finder in finders for found in finder.end(raw)] + stamp_findings(log.notices)
    motion, moves, told = _identities(raw, vehicle, log)
    findings += told + _physics(motion, vehicle)
    pressed = tuple(presses.times) if presses.there else None
    return Health(log.name, lasts, tuple(in_order(findings)), pressed, channels, moves, motion)


def _identities(raw: SlowMotion, vehicle: VehicleFacts | None, log: Log) -> tuple[SlowMotion, Moves, list[Finding]]:
    """Who is who among travels and axes; what is sure is put right in the copy that is handed on."""
    channels, some = raw.channels, raw.thinned()
    seen = witnesses(some)
    travels = identify_travels(some, seen, vehicle.wheelbase if vehicle else WHEELBASE, vehicle.static_travel if vehicle else None)
    zeros = zeros_of_turned(some, travels, vehicle.hang_travel if vehicle else None)
    moves: dict[int, Move] = travel_moves(travels, channels, zeros) if travels and travels.differs and travels.sure >= SURE else {}
    unsure = travels.readings if travels and not moves else ()
    unit = identify_mounting(some, seen, moved(some, moves).corners("shaft_travel"), unsure)
    if unit and unit.differs and unit.sure >= SURE:
        moves |= mounting_moves(unit, channels)
    findings = travel_findings(travels, channels, zeros, log.channel_map) + mounting_findings(unit, channels, log.channel_map.mounting)
    return moved(raw, moves), moves, findings + _contradiction(seen, channels)


def _contradiction(seen: Witnesses, channels: Channels) -> list[Finding]:
    """One of steering, wheel speeds and yaw gyro says right where the others say left."""
    if not seen.contradiction:
        return []
    text = f"{seen.contradiction}: says right where the two other witnesses of a turn (of steer angle, wheel speeds, yaw rate) say left"
    effect = "turn-in, cornering where the yaw rate is lost, and left against right in everything that reads it"
    steering = seen.contradiction == "steer angle"
    mend = "[signals.steer_angle] sign turned round" if steering else "[signals.wheel_speed] left and right exchanged"
    brief = f"{seen.contradiction} {'inverted' if steering else 'exchanged'}"
    rows = tuple(row.index for row in channels.of("steer_angle" if steering else "wheel_speed"))
    words = ("put the map right", mend, rows)
    return [Finding("inverted axis", seen.contradiction, np.nan, np.nan, 0.95, IMPAIRS, text, effect, brief, *words)]


def _physics(motion: SlowMotion, vehicle: VehicleFacts | None) -> list[Finding]:
    """What the slow copy tells once everything is in its place."""
    some = motion.thinned()
    seen = witnesses(some)
    static = None if vehicle is None else vehicle.static_travel
    shifts = alignment(motion, seen if some is motion else witnesses(motion))
    return [*unbelievable(some), *ride_height(some, seen, static), *shifts, *wheel_scale(some, seen)]

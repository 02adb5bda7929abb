"""Was the landing duty reached before the wheels came down? The figure a detector of flight is there for.

Per flight, corner and side: the *landing duty* is the firmest duty that a layer opened by the landing commanded within `AFTER` of
that wheel's touchdown; where none did, what a layer opened by flight commanded at touchdown, or last before it. The *margin* is
the time between the moment from which the valve holds that duty, within `SLACK`, and touchdown: positive is before. It counts
everything: sensor, detector delays, fades, slew, and the valve's lag, since it is read off the duty the valve has reached. A
corner at which no such layer ever decided was not prepared at all.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.signals import SIDES
from dualduty.study.drives import Drive
from dualduty.study.truth import LEAST_HOP, flights
from replay.check.intervals import Interval

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]

AFTER: Final = 0.06  # s past touchdown; what is commanded later came too late to be the landing's
SLACK: Final = 0.05  # duty; a valve's hysteresis and resolution leave 3.5 % open
OPENED_BY: Final = ("airborne_likely", "airborne", "wheel_off", "landing")


@dataclass(frozen=True)
class Touchdown:
    """One flight: time in the air, and the least margin of its four corners per side; NaN where one was not prepared. [s]"""

    section: str
    mode: str
    air_time: float
    compression: float
    rebound: float
    landing_after: float  # how long after touchdown the landing state opened; negative before, NaN never

    @property
    def prepared(self) -> bool:
        """Whether a layer of flight or landing decided at every corner."""
        return not np.isnan(self.compression + self.rebound)


@dataclass(frozen=True)
class Preparing:
    """Layers that prepare a landing, by index: those that flight opens, and those that touchdown opens."""

    flight: tuple[int, ...]
    landing: tuple[int, ...]

    @classmethod
    def of(cls, calibration: Calibration) -> Preparing:
        """Those of a calibration, by the states that open them."""
        found = {state: tuple(number for number, layer in enumerate(calibration.layers) if state in layer.when) for state in OPENED_BY}
        landing = found.pop("landing")
        return cls(tuple(sorted({*sum(found.values(), ())} - {*landing})), landing)


def touchdowns(drive: Drive, layers: Preparing) -> list[Touchdown]:
    """Every flight of a drive that ends within it."""
    off = drive.truth["wheel_load"] <= 0.0
    return [_touchdown(drive, off, flight, layers) for flight in flights(off, drive.dt, LEAST_HOP) if flight[1] + AFTER < drive.length]


def _touchdown(drive: Drive, off: Gate, flight: Interval, layers: Preparing) -> Touchdown:
    first, down = (round(edge / drive.dt) for edge in flight)
    touches = [_touch(off[corner], down) for corner in range(4)]
    margins = {side: [_margin(drive, side, corner, (first, touches[corner]), layers) for corner in range(4)] for side in SIDES}
    least = {side: float(np.min(found)) for side, found in margins.items()}  # NaN where one corner is
    case = drive.case
    return Touchdown(
        case.section, case.mode, flight[1] - flight[0], least["compression"], least["rebound"], _landing_after(drive, first, down)
    )


def _touch(off: Gate, down: int) -> int:
    """Tick at which one wheel comes down, at or after the first of the four."""
    on_ground = np.flatnonzero(~off[down:])
    return down + (int(on_ground[0]) if on_ground.size else 0)


def _margin(drive: Drive, side: str, corner: int, flight: tuple[int, int], layers: Preparing) -> float:
    first, touch = flight
    duty, decided = drive.duty[side][corner], drive.layer[side][corner]
    last = min(touch + round(AFTER / drive.dt), drive.ticks)
    landing = touch + np.flatnonzero(np.isin(decided[touch:last], layers.landing))
    flight_on = first + np.flatnonzero(np.isin(decided[first:last], layers.flight))
    if landing.size:
        wanted = float(duty[landing].max())
    elif flight_on.size:
        wanted = float(duty[flight_on[min(int(np.searchsorted(flight_on, touch)), flight_on.size - 1)]])
    else:
        return float("nan")
    return margin(drive.truth[f"reached_{side}"][corner, first:], wanted - SLACK, touch - first) * drive.dt


def margin(reached: Array, wanted: float, touch: int) -> float:
    """Ticks between the moment from which `reached` holds at least `wanted` and tick `touch`; negative when it comes after."""
    enough = reached >= wanted
    if enough[touch]:
        short = np.flatnonzero(~enough[:touch])
        return float(touch - (short[-1] + 1 if short.size else 0))
    later = np.flatnonzero(enough[touch:])
    return -float(later[0] if later.size else len(reached) - touch)


def _landing_after(drive: Drive, first: int, down: int) -> float:
    if "landing" not in drive.states:
        return float("nan")
    opened = np.flatnonzero(drive.states["landing"][0, first:])
    return float((opened[0] + first - down) * drive.dt) if opened.size else float("nan")

"""What was asked against what came: each wish met or not, and everything that moved without being asked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.dyno.common_grid import common_grid, sample, sample_spread
from dualduty.dyno.regions import Region, find_regions, say_share, say_speed
from dualduty.dyno.request import Request, Wish
from dualduty.dyno.request_target import Target, in_full, wish_weight
from dualduty.signals import CORNER_LABELS, CORNERS

if TYPE_CHECKING:
    from dualduty.dyno.sheet import Sheet

Array = NDArray[np.float64]

_REPEATS: Final = 3.0  # a cell is out of tolerance only beyond this many times its repeat spread
_LEAST_FORCE: Final = 15.0  # N; nobody minds less, common practice
_BLEND: Final = 2.0  # a blend is not a wish: twice the width there
_TINY: Final = 1.0  # N


@dataclass(frozen=True)
class Delivery:
    """One wish at one damper: middle change asked and delivered against the base [1], and the worst tested point."""

    wish: Wish
    serial: str
    corner: str
    asked: float
    delivered: float
    worst: float
    worst_at: str
    met: bool
    why_not: str = ""

    def sentence(self) -> str:
        """Wish, damper and outcome in one line."""
        head = f"wish {self.wish.number}, {self.serial or 'no sheet'} {CORNER_LABELS[CORNERS.index(self.corner)]} {self.wish.side}"
        if self.why_not:
            return f"{head}: can't tell, {self.why_not}"
        verdict = "met" if self.met else f"NOT met: {say_share(self.worst)} against what was asked {self.worst_at}"
        tolerance = f"(tolerance {100 * self.wish.tolerance:g} %)"
        return f"{head}: asked {say_share(self.asked)}, delivered {say_share(self.delivered)} {tolerance}: {verdict}"


@dataclass(frozen=True)
class Unasked:
    """Something that moved away from the asked map where no wish was."""

    serial: str
    corner: str
    side: str
    region: Region

    def sentence(self) -> str:
        """What moved, in one line."""
        return f"not asked: {self.serial} {CORNER_LABELS[CORNERS.index(self.corner)]} {self.side} {self.region.signed} {self.region.where}"


@dataclass(frozen=True, eq=False)
class Compared:
    """One delivered map at the points it was tested, beside asked and base forces, (speed, duty). [N]"""

    target: Target
    sheet: Sheet
    speeds: Array
    duties: Array
    base: Array
    asked: Array
    delivered: Array
    spread: Array


@dataclass(frozen=True, eq=False)
class Answer:
    """Outcome of a request."""

    request: Request
    deliveries: tuple[Delivery, ...]
    unasked: tuple[Unasked, ...]
    compared: tuple[Compared, ...]

    @property
    def all_met(self) -> bool:
        """Whether every wish is met and nothing else moved."""
        return all(one.met for one in self.deliveries) and not self.unasked

    def sentences(self) -> list[str]:
        """Everything there is to say, a line each."""
        return [one.sentence() for one in self.deliveries] + [one.sentence() for one in self.unasked]


def answer(request: Request, targets: Sequence[Target], sheets: Sequence[Sheet]) -> Answer:
    """Hold new sheets against the asked maps."""
    compared = [_compared(target, sheet) for sheet in sheets for target in targets if CORNERS.index(sheet.corner) in target.base.corners]
    deliveries = [_delivery(one, wish) for one in compared for wish in one.target.wishes]
    return Answer(request, (*deliveries, *_without_sheet(request, sheets)), tuple(_unasked(request, compared)), tuple(compared))


def _compared(target: Target, sheet: Sheet) -> Compared:
    side = target.base.side
    tested = sheet.maps[side]
    speeds, duties = common_grid([tested, target.map])
    base, asked, delivered = (sample(each, speeds, duties) for each in (target.base.map, target.map, tested))
    return Compared(target, sheet, speeds, duties, base, asked, delivered, sample_spread(sheet, side, speeds, duties))


def _delivery(one: Compared, wish: Wish) -> Delivery:
    full = in_full(wish, one.speeds, one.duties)
    top = float(one.sheet.maps[wish.side].speeds[-1])
    place = (wish, one.sheet.serial, one.sheet.corner)
    if not full.any() or wish.speed.high > top * 1.03:
        return Delivery(*place, np.nan, np.nan, np.nan, "", met=False, why_not=f"tested to {top:g} m/s only")
    asked, delivered = (np.median((forces / np.maximum(one.base, _TINY) - 1.0)[full]) for forces in (one.asked, one.delivered))
    off = (one.delivered - one.asked) / np.maximum(one.asked, _TINY)
    allowed = np.maximum(wish.tolerance, np.maximum(_REPEATS * one.spread, _LEAST_FORCE) / np.maximum(one.asked, _TINY))
    over = np.where(full, np.abs(off) / allowed, 0.0)
    row, column = np.unravel_index(int(over.argmax()), over.shape)
    at = f"at {say_speed(one.speeds[row])} m/s, {100 * one.duties[column]:.0f} % duty"
    return Delivery(*place, float(asked), float(delivered), float(off[row, column]), at, met=bool(over.max() <= 1.0))


def _without_sheet(request: Request, sheets: Sequence[Sheet]) -> list[Delivery]:
    came = {CORNERS.index(sheet.corner) for sheet in sheets}
    return [
        Delivery(wish, "", CORNERS[corner], np.nan, np.nan, np.nan, "", met=False, why_not="no new sheet for this corner")
        for wish in request.wishes
        for corner in wish.corners
        if corner not in came
    ]


def _unasked(request: Request, compared: Sequence[Compared]) -> list[Unasked]:
    found = []
    for one in compared:
        off = (one.delivered - one.asked) / np.maximum(one.asked, _TINY)
        width = np.maximum(request.unasked, np.maximum(_REPEATS * one.spread, _LEAST_FORCE) / np.maximum(one.asked, _TINY))
        for wish in one.target.wishes:
            off = np.where(in_full(wish, one.speeds, one.duties), np.nan, off)
            width = np.where(wish_weight(wish, one.speeds, one.duties) > 0.0, _BLEND * width, width)
        regions = find_regions(one.speeds, one.duties, off, width)
        found += [Unasked(one.sheet.serial, one.sheet.corner, one.target.base.side, region) for region in regions]
    return found

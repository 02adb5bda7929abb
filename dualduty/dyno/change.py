"""One damper before and after: what changed beyond the scatter of repeats, in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.dyno.common_grid import common_grid, sample, sample_spread
from dualduty.dyno.overlay import corner_label
from dualduty.dyno.regions import Region, find_regions
from dualduty.errors import BadInput
from dualduty.signals import SIDES

if TYPE_CHECKING:
    from dualduty.dyno.sheet import Sheet

Array = NDArray[np.float64]

REMOUNT: Final = 0.02  # share that taking a damper off the machine and on again may change; common practice, not in the repeats
_LEAST_FORCE: Final = 10.0  # N; a change below this is nobody's business
_REPEATS: Final = 3.0
_TINY: Final = 1.0  # N; keeps shares finite where a map starts near no force


@dataclass(frozen=True, eq=False)
class SideChange:
    """Change of one side.

    before, after : (speed, duty) arrays
        [N]
    change, width : (speed, duty) arrays
        After against before, and half the corridor within which nothing can be said. [1]
    """

    side: str
    speeds: Array
    duties: Array
    before: Array
    after: Array
    change: Array
    width: Array
    regions: tuple[Region, ...]


@dataclass(frozen=True, eq=False)
class Change:
    """Both sides of a damper before and after."""

    before: Sheet
    after: Sheet
    sides: tuple[SideChange, ...]
    notices: tuple[str, ...]

    def sentences(self) -> list[str]:
        """What changed, a line each; a side that didn't is said so too."""
        found = []
        for side in self.sides:
            found += [f"{side.side} {region.signed} {region.where}" for region in side.regions]
            if not side.regions:
                largest = float(np.abs(np.median(side.change, axis=1)).max())
                found.append(f"{side.side} unchanged beyond scatter (at most {100 * largest:.1f} % at any tested speed)")
        return found


def change_between(before: Sheet, after: Sheet) -> Change:
    """Compare two sheets of one damper; other serials, corners or builds are noticed, since they may be meant."""
    sides = tuple(_side_change(side, before, after) for side in SIDES)
    return Change(before, after, sides, tuple(_notices(before, after)))


def _notices(before: Sheet, after: Sheet) -> list[str]:
    pairs = (
        ("serial", before.serial, after.serial),
        ("corner", corner_label(before.corner), corner_label(after.corner)),
        ("build", before.build, after.build),
    )
    return [f"{name} is {first} before and {second} after" for name, first, second in pairs if first != second]


def _side_change(side: str, before: Sheet, after: Sheet) -> SideChange:
    speeds, duties = common_grid([before.maps[side], after.maps[side]])
    if not speeds.size:
        raise BadInput(str(after.file), f"{side}: the tested shaft speeds don't overlap those of {before.file}")
    first, second = (sample(sheet.maps[side], speeds, duties) for sheet in (before, after))
    spread = np.hypot(*(sample_spread(sheet, side, speeds, duties) for sheet in (before, after)))
    base = np.maximum(first, _TINY)
    change = (second - first) / base
    width = np.maximum(REMOUNT, np.maximum(_REPEATS * spread, _LEAST_FORCE) / base)
    return SideChange(side, speeds, duties, first, second, change, width, tuple(find_regions(speeds, duties, change, width)))

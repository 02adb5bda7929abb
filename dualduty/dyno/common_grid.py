"""One set of shaft speeds and duties for maps that were tested at different ones."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.damper_map import DamperMap

if TYPE_CHECKING:
    from dualduty.dyno.sheet import Sheet

Array = NDArray[np.float64]

_SAME_SPEED: Final = 0.03  # tested speeds nearer than this share are one: a machine hits its set speed within about 2 %, common practice
_SAME_DUTY: Final = 0.01


def common_grid(maps: Sequence[DamperMap]) -> tuple[Array, Array]:
    """Shaft speeds above 0 [m/s] that lie in the tested range of every map, and duties [1]; near neighbours count once."""
    top = min(float(each.speeds[-1]) for each in maps)
    bottom = max(float(each.speeds[1]) for each in maps)
    speeds = [speed for each in maps for speed in each.speeds[1:] if bottom * (1 - _SAME_SPEED) <= speed <= top * (1 + _SAME_SPEED)]
    duties = [duty for each in maps for duty in each.duties]
    return _distinct(speeds, _SAME_SPEED, 0.0), _distinct(duties, 0.0, _SAME_DUTY)


def _distinct(values: Sequence[float], share: float, absolute: float) -> Array:
    """Rising, without those that lie within a share or an absolute distance of one that came earlier."""
    kept: list[float] = []
    for value in values:
        if all(abs(value - other) > share * other + absolute for other in kept):
            kept.append(float(value))
    return np.array(sorted(kept))


def sample(damper_map: DamperMap, speeds: Array, duties: Array) -> Array:
    """Forces of a map at other points.

    speeds : (speed,) array
        [m/s]
    duties : (duty,) array
        [1]

    Returns
    -------
    (speed, duty) array
        [N]
    """
    return damper_map.force(speeds[:, None, None], duties[None, :, None])[:, :, 0]


def sample_spread(sheet: Sheet, side: str, speeds: Array, duties: Array) -> Array:
    """Repeat spread (standard deviation) of one side of a sheet at other points, (speed, duty), held at the edges. [N]

    A sheet with a single repeat knows none; 0 then, and the corridor stays at its other widths.
    """
    tested, spread = sheet.maps[side], np.nan_to_num(sheet.spread[side])
    at_speeds = np.stack([np.interp(speeds, tested.speeds, column) for column in spread.T], axis=1)
    return np.stack([np.interp(duties, tested.duties, row) for row in at_speeds])

"""How one side's command shifts the other side's force: a number from the grid of both duties."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.damper_map import DamperMap
from dualduty.dyno.points import Points

Array = NDArray[np.float64]

_BEYOND: Final = 1.02  # the machine reaches its speed within a per cent or so
_LARGE_RESIDUAL: Final = 0.03  # of the force: as much as a damper differs from its neighbour (common practice)


def fit_crosstalk(points: Points, force: Array, side: str, damper_map: DamperMap, notices: list[str]) -> tuple[float, float]:
    """Relative change of this side's force per unit duty of the other side, and the relative r.m.s. it leaves over.

    `force` is that of the damper alone, for each row of `points` [N]. The model is map * (1 + number * other duty), fitted
    by least squares over the rows with the other side's duty above 0; 0 and nan where there are none.
    """
    wanted = points.moves(side) & (points.other_duty(side) > 0.0) & (np.abs(points.speed) <= _BEYOND * damper_map.speeds[-1])
    if not wanted.any():
        told = f"no rows with the other side's duty above 0: crosstalk of {side} is taken as 0; expected a grid of both duties"
        notices.append(f"{points.path.name}: {told}")
        return 0.0, math.nan
    rows, measured = points.only(wanted), force[wanted]
    alone = damper_map.force(np.abs(rows.speed)[None, :, None], rows.own_duty(side)[None, :, None])[0, :, 0]
    effect = alone * rows.other_duty(side)
    if not effect.any():
        return 0.0, math.nan
    number = float(effect @ (measured - alone) / (effect @ effect))
    left = measured - alone - number * effect
    residual = float(np.sqrt(np.mean(np.square(left)) / np.mean(np.square(alone))))
    if residual > _LARGE_RESIDUAL:
        where = rows.where(int(np.argmax(np.abs(left))))
        notices.append(f"{where}: one crosstalk number ({number:+.1%}) leaves {residual:.1%} of the {side} force unexplained")
    return number, residual

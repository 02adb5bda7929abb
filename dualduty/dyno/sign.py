"""Whether speed and force count the way the sheet declares: seen in which duty moves the force, and in what direction force acts."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.dyno.points import Points
from dualduty.dyno.sheet_file import tell_some
from dualduty.errors import BadInput
from dualduty.signals import SIDES

Array = NDArray[np.float64]

_FIRM: Final = 0.5  # duty and speed from which on a damper outdoes its gas force and friction by far (common practice)
_FAST: Final = 0.1  # m/s
_ENOUGH: Final = 4  # rows that make a judgement


def check_sign(points: Points, sign: float, problems: list[BadInput]) -> bool:
    """False, and one line more in `problems`, where the forces contradict the declared sign; `points` are as declared.

    Notes
    -----
    Speed and force both reversed still resist the motion, so power alone can't tell. But the compression valve acts on
    the compression stroke: force at positive speed has to follow compression duty, and crosstalk is the smaller effect.
    """
    firm = points.only((np.maximum(points.compression_duty, points.rebound_duty) >= _FIRM) & (np.abs(points.speed) >= _FAST))
    if firm.speed.size < _ENOUGH:
        return True
    crossed = _follows_other(points)
    power = firm.speed * firm.force
    pushing = float(np.median(np.sign(power))) < 0.0
    if not crossed and not pushing:
        odd = [BadInput(firm.where(at), _told_odd(firm, at, sign)) for at in np.flatnonzero(power < 0.0).tolist()]
        tell_some(problems, odd, "such rows")
        return not odd
    what = "force is" if pushing and not crossed else "speed is" if pushing else "speed and force are"
    at = _strongest(firm, crossed=crossed)
    problems.append(BadInput(firm.where(at), _told(firm, at, sign, what)))
    return False


def _told(points: Points, at: int, sign: float, what: str) -> str:
    declared, reverse = ("compression", "rebound") if sign > 0.0 else ("rebound", "compression")
    side = SIDES[0] if points.speed[at] > 0.0 else SIDES[1]
    came = (
        f"{points.force[at] * sign:+.0f} N at {points.speed[at] * sign:+g} m/s, compression duty {points.compression_duty[at]:.0%}, "
        f"rebound duty {points.rebound_duty[at]:.0%}"
    )
    return (
        f"{what} reversed against the declared sign {declared}_positive: expected a force against the motion that follows {side} duty "
        f"here; came {came}; is the sheet {reverse}_positive?"
    )


def _told_odd(points: Points, at: int, sign: float) -> str:
    return f"expected a force against the motion, came {points.force[at] * sign:+.0f} N at {points.speed[at] * sign:+g} m/s"


def _strongest(points: Points, *, crossed: bool) -> int:
    """The row that shows it best: the largest force, at a crossed duty where duties are crossed."""
    own = np.where(points.speed > 0.0, points.compression_duty, points.rebound_duty)
    other = np.where(points.speed > 0.0, points.rebound_duty, points.compression_duty)
    shown = (other > own) if crossed else np.ones(own.size, bool)
    return int(np.argmax(np.where(shown, np.abs(points.force), -1.0)))


def _follows_other(points: Points) -> bool:
    """Whether force follows the other side's duty more than the own one, over both directions of motion."""
    votes = []
    for side in SIDES:
        rows = points.only(points.moves(side))
        own, other = rows.own_duty(side), rows.other_duty(side)
        if rows.speed.size >= _ENOUGH and np.ptp(own) + np.ptp(other) > 0.0:
            terms = np.column_stack([np.ones_like(own), np.abs(rows.speed), own, other])
            found, *_ = np.linalg.lstsq(terms, np.abs(rows.force), rcond=None)
            votes.append(float(abs(found[3]) - abs(found[2])))
    return sum(votes) > 0.0

"""Gas force and friction taken out of what the machine measured: F = gas + rate * travel + friction * sign(speed) + damper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.dyno.points import CRAWL, Points, speed_levels
from dualduty.errors import BadInput

Array = NDArray[np.float64]

_ENOUGH_TRAVEL: Final = 0.2  # share of the stroke over which a gas rate can be seen (common practice)
_WRONG_GAS: Final = 30.0  # N; gas pushes the shaft out, this much the other way is no zero error of a load cell (common practice)


@dataclass(frozen=True)
class Separation:
    """What isn't damper, with standard errors from the scatter of the rows; see `Sheet` for units and signs."""

    gas_force: float
    gas_rate: float
    friction: float
    gas_error: float
    friction_error: float

    def damper_force(self, points: Points) -> Array:
        """Force of the damper alone, against the motion. [N]"""
        gas = self.gas_force + self.gas_rate * points.travel
        return (points.force - gas) * np.sign(points.speed) - self.friction

    def loop_width(self, points: Points) -> Array:
        """Rising minus falling force of the damper, against the motion, without the gas spring that widens a loop too. [N]"""
        return points.width - self.gas_rate * points.width_travel * np.sign(points.speed)


def separate(points: Points, stroke: float, problems: list[BadInput], notices: list[str]) -> Separation | None:
    """Gas force, its rate and friction from the slowest softest rows; None where there are too few.

    Notes
    -----
    With both duties at 0, and up to the second-slowest test speed of either direction, the damper is taken as proportional
    to speed on each side, which is how the map is read there too. Least squares over these rows then splits the constant
    (gas), what follows travel (gas rate), what follows the sign of speed (friction) and what follows speed (damper). A
    crawl of about 5 mm/s at several travels makes the split sharp; taking gas as the mean and friction as half the
    difference of the two directions at such a crawl is common practice, and what this comes to at speed 0.
    """
    slow = _slowest(points)
    if slow is None:
        problems.append(
            BadInput(
                points.path,
                "expected rows with both duties at 0 %, in both directions and at two speeds or more, to split gas and friction",
            )
        )
        return None
    rate_seen = float(np.ptp(slow.travel)) > _ENOUGH_TRAVEL * stroke
    columns = [np.ones_like(slow.speed), np.sign(slow.speed), np.maximum(slow.speed, 0.0), np.minimum(slow.speed, 0.0)]
    if rate_seen:
        columns.append(slow.travel)
    found, errors = _least_squares(np.column_stack(columns), slow.force)
    split = Separation(found[0], found[4] if rate_seen else 0.0, found[1], errors[0], errors[1])
    _judge(split, slow, stroke, problems)
    notices += _weaknesses(slow, rate_seen)
    return split


def _slowest(points: Points) -> Points | None:
    """Rows with both duties at 0, at the two slowest speeds of each direction."""
    soft = points.only((points.compression_duty == 0.0) & (points.rebound_duty == 0.0) & (points.speed != 0.0))
    kept = np.zeros(soft.speed.size, bool)
    for sign in (1.0, -1.0):
        rows = np.flatnonzero(soft.speed * sign > 0.0)
        levels, level = speed_levels(np.abs(soft.speed[rows]))
        if levels.size < 2:  # noqa: PLR2004 - friction and damping of one speed can't be told apart
            return None
        kept[rows[level < 2]] = True  # noqa: PLR2004
    return soft.only(kept)


def _least_squares(terms: Array, force: Array) -> tuple[Array, Array]:
    """Coefficients and their standard errors; columns are scaled first, as newtons and metres differ by thousands."""
    scale = np.abs(terms).max(axis=0)
    found, *_ = np.linalg.lstsq(terms / scale, force, rcond=None)
    left = force - terms / scale @ found
    variance = left @ left / max(force.size - terms.shape[1], 1)
    spread = np.sqrt(np.diag(np.linalg.pinv((terms / scale).T @ (terms / scale))) * variance)
    return found / scale, spread / scale


def _judge(split: Separation, slow: Points, stroke: float, problems: list[BadInput]) -> None:
    where = slow.where(int(np.argmin(np.abs(slow.speed))))
    middle = split.gas_force + split.gas_rate * stroke / 2.0
    if middle < -max(_WRONG_GAS, 3.0 * split.gas_error):
        told = f"gas force comes out as {middle:.0f} N at mid-stroke; expected 0 or more, as gas pushes the shaft out: is the sign right?"
        problems.append(BadInput(where, told))
    if split.friction < -max(_WRONG_GAS, 3.0 * split.friction_error):
        problems.append(BadInput(where, f"friction comes out as {split.friction:.0f} N; expected 0 or more"))


def _weaknesses(slow: Points, rate_seen: bool) -> list[str]:
    told = []
    slowest = float(np.abs(slow.speed).min())
    if slowest > CRAWL:
        told.append(
            f"{slow.path.name}: friction and gas force are extrapolated from {slowest:g} m/s; expected rows at {CRAWL:g} m/s or less"
        )
    if not rate_seen:
        told.append(f"{slow.path.name}: gas force is taken as the same over travel; expected slow rows at different travels")
    return told

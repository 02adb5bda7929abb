"""Which way the inertial unit really points, from gravity, acceleration, turns, and how the body rolls, pitches and yaws.

Every proper rotation by quarter turns (24) is weighed, as it is and with one axis of the accelerometer or the gyro turned round.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations, product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from replay.health.finding import SUREST
from replay.health.motion import band, correlation, explained, filled, slope
from replay.health.slow_copy import SlowMotion
from replay.health.travel_identity import Reading
from replay.health.witnesses import OWN, Witnesses

Array = NDArray[np.float64]
Matrix = tuple[tuple[float, ...], ...]
FORCES: Final = ("specific_force_x", "specific_force_y", "specific_force_z")
RATES: Final = ("roll_rate", "pitch_rate", "yaw_rate")
NAMES: Final = (*FORCES, *RATES)
# How likely before looking at the log: our choice, one map in twenty has a slip; a unit turned as a whole is the commonest.
AS_MAPPED: Final = 0.95
TURNED: Final = 0.04
FLIPPED: Final = 0.008
BOTH: Final = 0.002
LEAN: Final = np.deg2rad(12.0)  # how far the mean felt force lies off the vertical: slope of the ground and a lean of the unit
GAIN: Final = float(np.log(2.0))  # log of how far a slope strays from one; 0.7 to 1.6 in demo drives, 0.3 to 0.5 forward
LEVER: Final = (1.9, 3.0)  # m; shaft travel per angle of roll and of pitch, all four together: of a car of this kind
WORST: Final = 60.0  # log-likelihood that gravity can cost: what lies off by 90 degrees is beyond doubt


AS_THEY_ARE: Final[tuple[Reading, ...]] = ((1.0, (0, 1, 2, 3), (1.0, 1.0, 1.0, 1.0)),)


@dataclass(frozen=True)
class MountingIdentity:
    """The likeliest mounting.

    `axes` has a row for each of the vehicle's forward, left and up in terms of the map's x, y, z; `flipped` names a signal that
    has to be turned round besides, "" for none; `sure` is its probability, `as_mapped` that of the map; `next_best` in words.
    `force_follows` and `rate_follows` (3, 3): correlation of what the vehicle does along (about) forward, left, up with the
    map's x, y, z; `gravity` (3,): the mean felt force in the map's axes, in its own size.
    """

    axes: Matrix
    flipped: str
    sure: float
    as_mapped: float
    next_best: str
    next_sure: float
    force_follows: Array
    rate_follows: Array
    gravity: Array

    @property
    def turned(self) -> bool:
        """Whether the unit points otherwise than the map says."""
        return self.axes != STRAIGHT

    @property
    def differs(self) -> bool:
        """Whether anything is otherwise than the map says."""
        return self.turned or bool(self.flipped)


def _rotations() -> tuple[Matrix, ...]:
    """All proper rotations by quarter turns, the straight one first."""
    found = []
    for order, signs in product(permutations(range(3)), product((1.0, -1.0), repeat=3)):
        matrix = np.zeros((3, 3))
        matrix[range(3), order] = signs
        if np.linalg.det(matrix) > 0.0:
            found.append(tuple(tuple(row) for row in matrix.tolist()))
    return tuple(found)


ROTATIONS: Final = _rotations()
STRAIGHT: Final = ROTATIONS[0]


def axis_words(row: tuple[float, ...]) -> str:
    """An axis as the channel map says it: `-y`."""
    at = next(index for index, part in enumerate(row) if part)
    return ("-" if row[at] < 0.0 else "") + "xyz"[at]


def in_words(axes: Matrix, flipped: str) -> str:
    """A mounting in words."""
    turned = ", ".join(f"{word} is {axis_words(row)}" for word, row in zip(("forward", "left", "up"), axes, strict=True))
    words = [] if axes == STRAIGHT else [turned]
    return "; ".join([*words, *([f"{flipped.replace('_', ' ')} turned round"] if flipped else [])]) or "as mapped"


def identify_mounting(motion: SlowMotion, seen: Witnesses, travels: Array, readings: Sequence[Reading] = ()) -> MountingIdentity | None:
    """Weigh all mountings; None where a log has no inertial unit.

    travels : (4, bin) array
        As mapped, or put right already. [m]
    readings : sequence of Reading
        Which corner each may really belong to and which way round, where that isn't sure: what a turned travel does to roll and pitch
        must not be laid on the unit. None: as they are.
    """
    forces, rates = ([motion.one(name) for name in names] for names in (FORCES, RATES))
    if not any(np.isfinite(axis).any() for axis in (*forces, *rates)):
        return None
    turn, yaw = (None, None) if seen.told_by == OWN else (seen.turn, seen.yaw)  # no unit bears witness to itself
    along = _correlations([seen.forward, turn, seen.heave], forces, seen)
    abouts = [
        (chance, _correlations([*_leans(_placed(travels, corner, sign)), yaw], rates, seen))
        for chance, corner, sign in readings or AS_THEY_ARE
    ]
    gravity = np.array([float(np.mean(axis[np.isfinite(axis)])) if np.isfinite(axis).any() else 0.0 for axis in forces])
    hypotheses = [(axes, flipped) for axes in ROTATIONS for flipped in ("", *NAMES)]
    scores = np.full(len(hypotheses), -np.inf)
    for likely, about in abouts:
        fits = [_score(along, about, gravity, *hypothesis) for hypothesis in hypotheses]
        scores = np.logaddexp(scores, np.array(fits) + np.log(likely))
    chance = np.exp(scores - scores.max())
    chance /= chance.sum()
    ordered = np.argsort(chance)[::-1]
    best, after = int(ordered[0]), int(ordered[1])
    return MountingIdentity(
        *hypotheses[best], sure=min(float(chance[best]), SUREST), as_mapped=float(chance[hypotheses.index((STRAIGHT, ""))]),
        next_best=in_words(*hypotheses[after]), next_sure=float(chance[after]),
        force_follows=along[:, :, 0], rate_follows=abouts[0][1][:, :, 0],
        gravity=gravity,
    )  # fmt: skip


def _placed(travels: Array, corner: Sequence[int], sign: Sequence[float]) -> Array:
    """Each travel at the corner it belongs to, the right way round; what it is taken from doesn't matter to how it moves."""
    placed = np.empty_like(travels)
    placed[list(corner)] = np.array(sign)[:, None] * travels
    return placed


def _leans(travels: Array) -> list[Array | None]:
    """Roll and pitch rate of the body against its wheels, in the band; None without travels."""
    if not np.isfinite(travels).any(axis=1).all():
        return [None, None]
    front_left, front_right, rear_left, rear_right = (filled(row) for row in travels)
    roll = slope(front_right + rear_right - front_left - rear_left)
    pitch = slope(front_left + front_right - rear_left - rear_right)
    return [band(roll / LEVER[0]), band(pitch / LEVER[1])]


def _correlations(references: list[Array | None], axes: list[Array], seen: Witnesses) -> Array:
    """Correlation, count of samples and ratio of sizes of each reference with each axis, (3, 3, 3)."""
    found = np.zeros((3, 3, 3))
    moved = [band(axis) for axis in axes]
    for k, reference in enumerate(references):
        for a, axis in enumerate(moved):
            found[k, a] = (0.0, 0.0, 0.0) if reference is None else (*correlation(reference, axis, seen.moving), _gain(axis, reference))
    return found


def _score(along: Array, about: Array, gravity: Array, axes: Matrix, flipped: str) -> float:
    turn = {name: -1.0 if name == flipped else 1.0 for name in NAMES}
    total = 0.0
    for k in range(3):
        a = next(index for index, part in enumerate(axes[k]) if part)
        sign = axes[k][a]
        total += _fits(sign * turn[FORCES[k]], along[k, a]) + _fits(sign * turn[RATES[k]], about[k, a])
    size = float(np.linalg.norm(gravity))
    if size > 0.0:
        up = turn[FORCES[2]] * float(np.dot(axes[2], gravity)) / size
        total -= min(0.5 * (float(np.arccos(np.clip(up, -1.0, 1.0))) / LEAN) ** 2, WORST)
    return total + _before(axes, flipped)


def _gain(axis: Array, reference: Array) -> float:
    """How large an axis is beside what it would have to show."""
    both = np.isfinite(axis) & np.isfinite(reference)
    size = float(np.std(reference[both])) if both.any() else 0.0
    return float(np.std(axis[both])) / size if size > 0.0 else 0.0


def _fits(sign: float, found: Array) -> float:
    """Log-likelihood of an axis: what it explains, less for a slope that is far from one; never less than that of no slope."""
    r, samples, gain = sign * float(found[0]), float(found[1]), float(found[2])
    if not (r > 0.0 and gain > 0.0):
        return 0.0
    return max(explained((r, samples)) - 0.5 * (float(np.log(r * gain)) / GAIN) ** 2, 0.0)


def _before(axes: Matrix, flipped: str) -> float:
    if axes == STRAIGHT:
        return float(np.log(FLIPPED / 6 if flipped else AS_MAPPED))
    return float(np.log(BOTH / 138 if flipped else TURNED / 23))

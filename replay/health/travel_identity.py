"""Which corner each travel channel really belongs to, and which way round it runs, from what the body does to the corners.

A left turn compresses the right side, speeding up the rear, a felt force beyond gravity all four; in flight all hang out; and a
rear wheel goes, one wheelbase later, over what the front wheel of its side went over. Every assignment of channels to corners and
directions (24 x 16) is weighed against that.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations, product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import CORNER_LABELS
from replay.health.finding import SUREST
from replay.health.ground_follows import ground_follows
from replay.health.motion import LEAST, MOST_SAMPLES, PER_SECOND, band, explained, flights
from replay.health.slow_copy import RATE, SlowMotion
from replay.health.witnesses import OWN, WHEELBASE, Witnesses

Array = NDArray[np.float64]
# What a corner does, compression positive: in a left turn, when speeding up, under a felt force beyond gravity.
EXPECTED: Final = np.array([[-1.0, -1.0, 1.0], [1.0, -1.0, 1.0], [-1.0, 1.0, 1.0], [1.0, 1.0, 1.0]])
# How likely before looking at the log. Our choice: one map in twenty has a slip, a turned sensor is the commonest.
AS_MAPPED: Final = 0.95
ONE_TURNED: Final = 0.03
ONE_SWAP: Final = 0.015
OTHERWISE: Final = 0.005
_OUT, _IN = 0.3, 0.7  # share of the time a travel is below (above) what it has at the end of a flight
GYRO_TURNED: Final = 0.03  # likewise, of a yaw gyro about a vertical axis
HANGS: Final = 0.9  # how likely a travel is out at the end of a flight; the rest are landings on one axle and errors
LEVEL: Final = 0.04  # m off ride height on average, beyond what the middle of all four is, which a sound channel seldom is
OFF_LEVEL: Final = 2.5  # log-likelihood that it costs: an offset sensor is rarer than a turned one by e^2.5, our choice
MOST_FLIGHTS: Final = 20


Reading = tuple[float, tuple[int, ...], tuple[float, ...]]
MOST_READINGS: Final = 12  # as mapped, one turned, two exchanged, and the odd one
LEAST_CHANCE: Final = 1e-3


@dataclass(frozen=True)
class TravelIdentity:
    """The likeliest assignment.

    `corner[c]` is the corner that the channel mapped to corner `c` belongs to, `sign[c]` is -1 where it runs the wrong way;
    `sure` its probability, `as_mapped` that of the map; `next_best` says in words what comes next, with `next_sure`.
    `follows` (4, 3) holds partial correlations with turn, forward and heave, `out` (4,) the share of flights at whose end
    the channel was out, NaN without flights; `ground` (4, 4) how alike each is to each other one wheelbase later; `readings` are the
    likeliest assignments, each with its probability.
    """

    corner: tuple[int, ...]
    sign: tuple[float, ...]
    sure: float
    as_mapped: float
    next_best: str
    next_sure: float
    follows: Array
    out: Array
    flights: int
    ground: Array
    readings: tuple[Reading, ...] = ()

    @property
    def differs(self) -> bool:
        """Whether it is another than the map's."""
        return self.corner != (0, 1, 2, 3) or min(self.sign) < 0.0


def identify_travels(
    motion: SlowMotion, seen: Witnesses, wheelbase: float = WHEELBASE, static_travel: Array | None = None
) -> TravelIdentity | None:
    """Weigh all assignments; None where a log has no travels, or nothing to hold them against.

    static_travel : (4,) array or None
        Shaft travel of the vehicle at ride height, where it is known. [m]
    """
    travels = motion.corners("shaft_travel")
    references = [seen.turn, seen.forward, seen.heave]
    if not np.isfinite(travels).any() or all(reference is None for reference in references):
        return None
    follows, samples = _follows(travels, references, seen)
    out, count = _hangs(motion, travels)
    off_level = np.zeros((4, 4))
    if static_travel is not None:
        levels = _levels(travels)
        of_all = np.nanmedian(levels - static_travel)  # a load, or the file of another vehicle: of that no channel is guilty
        off_level += OFF_LEVEL * (np.abs(levels[:, None] - static_travel - of_all) > LEVEL)
    ground = ground_follows(motion, wheelbase)
    hypotheses = [(corner, sign) for corner in permutations(range(4)) for sign in product((1.0, -1.0), repeat=4)]
    scores = np.full(len(hypotheses), -np.inf)
    for told, likely in _ways_round(follows, seen):
        weights = _weights(told, samples, out, count)
        weights[:, :, 0] -= off_level
        fits = [_score(weights, *hypothesis) + _rolls(ground, samples, *hypothesis) for hypothesis in hypotheses]
        scores = np.logaddexp(scores, np.array(fits) + np.log(likely))
    chance = np.exp(scores - scores.max())
    chance /= chance.sum()
    ordered = np.argsort(chance)[::-1]
    best, after = int(ordered[0]), int(ordered[1])
    as_mapped = hypotheses.index(((0, 1, 2, 3), (1.0, 1.0, 1.0, 1.0)))
    return TravelIdentity(
        *hypotheses[best], sure=min(float(chance[best]), SUREST), as_mapped=float(chance[as_mapped]),
        next_best=in_words(*hypotheses[after]),
        next_sure=float(chance[after]), follows=follows, out=out, flights=count,
        ground=ground,
        readings=tuple((float(chance[at]), *hypotheses[at]) for at in ordered[:MOST_READINGS].tolist() if chance[at] > LEAST_CHANCE),
    )  # fmt: skip


def in_words(corner: tuple[int, ...], sign: tuple[float, ...]) -> str:
    """An assignment in words."""
    moved = [f"{CORNER_LABELS[c]} channel is {CORNER_LABELS[corner[c]]}" for c in range(4) if corner[c] != c]
    turned = [f"{CORNER_LABELS[c]} runs the wrong way" for c in range(4) if sign[c] < 0.0]
    return "; ".join([*moved, *turned]) or "as mapped"


def _follows(travels: Array, references: list[Array | None], seen: Witnesses) -> tuple[Array, float]:
    """Partial correlation of each travel with each reference, the others held, (4, 3), and how many samples it stands on."""
    there = [index for index, reference in enumerate(references) if reference is not None]
    given = np.array([reference for reference in references if reference is not None])
    follows = np.zeros((4, 3))
    seconds = 0.0
    for corner in range(4):
        moved = band(travels[corner])
        where = seen.moving & np.isfinite(moved) & np.isfinite(given).all(axis=0)
        if where.sum() < LEAST * RATE or not np.ptp(moved[where]) > 0.0:
            continue
        seconds = max(seconds, float(where.sum()) / RATE)
        follows[corner, there] = _partial(np.concatenate([moved[None, where], given[:, where]]))
    return follows, min(PER_SECOND * seconds, MOST_SAMPLES)


def _ways_round(follows: Array, seen: Witnesses) -> list[tuple[Array, float]]:
    """What the travels follow, and how likely it is told so: a yaw gyro that alone tells of turns may itself be turned round."""
    if seen.told_by != OWN:
        return [(follows, 1.0)]
    return [(follows, 1.0 - GYRO_TURNED), (follows * np.array([-1.0, 1.0, 1.0]), GYRO_TURNED)]


def _levels(travels: Array) -> Array:
    """Mean of each travel, (4,)."""
    return np.array([float(np.mean(row[np.isfinite(row)])) if np.isfinite(row).any() else np.nan for row in travels])


def _partial(rows: Array) -> Array:
    """Partial correlation of the first row with each of the others, the rest held."""
    lively = rows.std(axis=1) > 0.0
    found = np.zeros(len(rows) - 1)
    precision = np.linalg.pinv(np.corrcoef(rows[lively]))
    scale = np.sqrt(np.outer(np.diag(precision), np.diag(precision)))
    found[lively[1:]] = (-precision / scale)[0, 1:]
    return found


def _hangs(motion: SlowMotion, travels: Array) -> tuple[Array, int]:
    """Share of flights at whose end each travel is far out, less that in which it is far in; and how many flights."""
    ends = [last - 1 for _, last in flights(motion)][:MOST_FLIGHTS]
    if not ends:
        return np.full(4, np.nan), 0
    out = np.full(4, np.nan)
    for corner in range(4):
        known = np.sort(travels[corner][np.isfinite(travels[corner])])
        at = travels[corner, ends]
        at = at[np.isfinite(at)]
        if len(at) and len(known):
            rank = 0.5 * (np.searchsorted(known, at, "left") + np.searchsorted(known, at, "right")) / len(known)
            out[corner] = float((rank < _OUT).mean() - (rank > _IN).mean())
    return out, len(ends)


def _weights(follows: Array, samples: float, out: Array, count: int) -> Array:
    """Log-likelihood of each channel being each corner, either way round: (channel, corner, 2)."""
    weights = np.zeros((4, 4, 2))
    for channel, corner, way in product(range(4), range(4), range(2)):
        sign = 1.0 if way == 0 else -1.0
        moves = sign * EXPECTED[corner] * follows[channel]
        weights[channel, corner, way] = sum(explained((float(move), samples)) for move in moves)
        if count and np.isfinite(out[channel]):
            weights[channel, corner, way] += 0.5 * count * sign * float(out[channel]) * float(np.log(HANGS / (1.0 - HANGS)))
    return weights


def _score(weights: Array, corner: tuple[int, ...], sign: tuple[float, ...]) -> float:
    fit = sum(weights[channel, corner[channel], 0 if sign[channel] > 0.0 else 1] for channel in range(4))
    return float(fit) + _before(corner, sign)


def _rolls(ground: Array, samples: float, corner: tuple[int, ...], sign: tuple[float, ...]) -> float:
    """Log-likelihood of the rear following the front on both sides; both see one ground in part, so they count as one."""
    channel = {corner[c]: c for c in range(4)}
    pairs = [(channel[front], channel[rear]) for front, rear in ((0, 2), (1, 3))]
    return 0.5 * sum(explained((sign[front] * sign[rear] * float(ground[front, rear]), samples)) for front, rear in pairs)


def _before(corner: tuple[int, ...], sign: tuple[float, ...]) -> float:
    """Log of how likely an assignment is before looking; those of one kind share alike."""
    moved, turned = sum(corner[c] != c for c in range(4)), sum(s < 0.0 for s in sign)
    if not moved and not turned:
        return float(np.log(AS_MAPPED))
    if not moved and turned == 1:
        return float(np.log(ONE_TURNED / 4))
    if moved == 2 and not turned:  # noqa: PLR2004 - two exchanged
        return float(np.log(ONE_SWAP / 6))
    return float(np.log(OTHERWISE / 373))

"""The modes of a linearised vehicle by name: heave, pitch, roll, and the four ways its wheels hop."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import pi, sqrt
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from plant.linearise import Linear
from plant.rows import MOVING, SERIES_FORCE

Array = NDArray[np.float64]

NAMES: Final = ("heave", "roll", "pitch", "front hop, together", "front hop, opposed", "rear hop, together", "rear hop, opposed")
_PAIR: Final = sqrt(0.5)


@dataclass(frozen=True)
class Mode:
    """One mode.

    `natural_hz` is undamped, |eigenvalue| over 2 pi; at a `damping_ratio` of 1 or more it no longer swings. `shares` says
    how far each of `NAMES` takes part (participation factors of position and speed together, of a sum of about 1).
    `shape` is the motion of heave [m], roll, pitch [rad] and four hubs [m], complex, its largest part 1.
    """

    name: str
    natural_hz: float
    damping_ratio: float
    shares: Array
    shape: NDArray[np.complex128]


def modes(linear: Linear) -> list[Mode]:
    """The seven modes of body and wheels in the order of `NAMES`, each name given to the mode that has the largest part in it.

    Speeds ahead and sideways and the tyres' slips are held, as usual for modes of ride: what the ground's grip adds to
    them is in the state space, and small. A mode too firm to swing is a pair of decays, w² their product and 2 zeta w
    their sum. So firm, a body moves as one with its wheels on the tyres, and a name says where a mode came from.
    """
    rows = [place for place, row in enumerate(linear.rows) if row < 2 * MOVING or row >= SERIES_FORCE]
    values, right = np.linalg.eig(linear.system.A[np.ix_(rows, rows)])
    shares = _shares(right)
    return [_mode(NAMES[name], values[list(pair)], shares[:, list(pair)].sum(axis=1), right[:MOVING, pair[0]])
            for name, pair in enumerate(_pairs(values, shares))]  # fmt: skip


def _pairs(values: NDArray[np.complex128], shares: Array) -> list[tuple[int, int]]:
    """For each name a pair of eigenvalues, so that all in all they take part most: conjugate ones, and decays two by two."""
    swinging = [(int(index), int(np.argmin(np.abs(values - values[index].conjugate())))) for index in np.flatnonzero(values.imag > 0.0)]
    decays = np.flatnonzero(values.imag == 0.0)
    count = 2 * (len(NAMES) - len(swinging))
    slow_first = sorted(decays[np.argsort(-shares[:, decays].max(axis=0))][:count], key=lambda index: abs(values[index]))
    best, most = swinging, -1.0
    for matched in _matchings([int(index) for index in slow_first]):
        pairs = swinging + matched
        weights = np.array([shares[:, list(pair)].sum(axis=1) for pair in pairs]).T
        names, chosen = linear_sum_assignment(-weights)
        if weights[names, chosen].sum() > most:
            best, most = [pairs[at] for at in chosen], float(weights[names, chosen].sum())
    return best


def _matchings(left: list[int]) -> Iterator[list[tuple[int, int]]]:
    """Every way to sort an even number of things into pairs."""
    if not left:
        yield []
    for place in range(1, len(left)):
        for rest in _matchings(left[1:place] + left[place + 1 :]):
            yield [(left[0], left[place]), *rest]


def _shares(right: Any) -> Array:
    """Participation of each of `NAMES` in each eigenvalue, (name, eigenvalue); the wheels of an axle taken as their sum and difference."""
    turn = np.eye(MOVING)
    for first in (3, 5):
        turn[first : first + 2, first : first + 2] = np.array([[_PAIR, _PAIR], [_PAIR, -_PAIR]])
    whole = np.eye(right.shape[0])
    for start in (0, MOVING):
        whole[start : start + MOVING, start : start + MOVING] = turn
    parts = (whole @ right) * (np.linalg.inv(right) @ whole.T).T
    result: Array = np.abs(parts[:MOVING] + parts[MOVING : 2 * MOVING])
    return result


def _mode(name: str, pair: NDArray[np.complex128], weights: Array, motion: NDArray[np.complex128]) -> Mode:
    natural = sqrt(abs(pair[0] * pair[1]))
    shape = motion / motion[np.argmax(np.abs(motion))]
    return Mode(name, natural / (2.0 * pi), -float(pair.sum().real) / (2.0 * natural), weights, shape)

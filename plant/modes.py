"""The modes of a linearised vehicle by name: heave, pitch, roll, and the four ways its wheels hop."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import pi, sqrt
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from plant.linearise import Linear
from plant.rows import MOVING

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

    @property
    def damped_hz(self) -> float:
        """Frequency at which it swings; 0 where it doesn't. [Hz]"""
        return self.natural_hz * sqrt(max(1.0 - self.damping_ratio**2, 0.0))


def modes(linear: Linear) -> list[Mode]:
    """The seven modes of body and wheels in the order of `NAMES`, each name given to the mode that has the largest part in it.

    A mode too firm to swing is a pair of decays: those two that share its coordinate most, w² their product and
    2 zeta w their sum.
    """
    values, right = np.linalg.eig(linear.system.A)
    left = np.linalg.inv(right)
    shares = _shares(linear, right, left)
    pairs = _pairs(values, shares)
    weights = np.array([sum(shares[:, index] for index in pair) for pair in pairs])
    names, chosen = linear_sum_assignment(-weights.T)
    return [_mode(NAMES[name], [values[index] for index in pairs[at]], weights[at], _shape(linear, right[:, pairs[at][0]]))
            for name, at in zip(names, chosen, strict=True)]  # fmt: skip


def _pairs(values: NDArray[np.complex128], shares: Array) -> list[tuple[int, ...]]:
    """Conjugate pairs, and for each name the two decays that have the largest parts in it."""
    found: list[tuple[int, ...]] = []
    for index in np.flatnonzero(values.imag > 0.0):
        mate = int(np.argmin(np.abs(values - values[index].conjugate())))
        found.append((int(index), mate))
    decays = np.flatnonzero((values.imag == 0.0) & (values.real < 0.0))
    for share in shares:
        strongest = decays[np.argsort(-share[decays])[:4]]
        found += [(int(one), int(other)) for one, other in combinations(strongest, 2) if (int(one), int(other)) not in found]
    return found


def _shares(linear: Linear, right: Any, left: Any) -> Array:
    """Participation of each of `NAMES` in each eigenvalue, (name, eigenvalue); the wheels of an axle taken as their sum and difference."""
    turn = np.eye(MOVING)
    for first in (3, 5):
        turn[first : first + 2, first : first + 2] = np.array([[_PAIR, _PAIR], [_PAIR, -_PAIR]])
    whole = np.eye(right.shape[0])
    for start in (0, MOVING):
        rows = [linear.rows.index(start + row) for row in range(MOVING)]
        whole[np.ix_(rows, rows)] = turn
    parts = (whole @ right) * (left @ whole.T).T
    places = np.array([[linear.rows.index(start + row) for row in range(MOVING)] for start in (0, MOVING)])
    result: Array = np.abs(parts[places].sum(axis=0))
    return result


def _shape(linear: Linear, vector: Any) -> NDArray[np.complex128]:
    motion = vector[[linear.rows.index(row) for row in range(MOVING)]]
    shape: NDArray[np.complex128] = motion / motion[np.argmax(np.abs(motion))]
    return shape


def _mode(name: str, values: list[complex], weights: Array, shape: NDArray[np.complex128]) -> Mode:
    natural = sqrt(abs(values[0] * values[1]))
    return Mode(name, natural / (2.0 * pi), -float((values[0] + values[1]).real) / (2.0 * natural), weights, shape)

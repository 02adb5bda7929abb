"""The compiled steps of the quarter cars: what is seen, what valves are asked for, and one tick of the plant.

Rows of a state: body height and speed, wheel height and speed, coefficients in compression and rebound.
Rows of the cars: as `Corner` has them, then the valve's time constant and whether there is one valve only.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import F8, IN2, OUT2, inline, kernel

Array = NDArray[np.float64]

STATIC_TRAVEL: Final = 0.3
GRAVITY: Final = 9.80665
SEEN: Final = (
    "corner_speed", "hub_speed", "corner_acceleration", "net_spring_force", "shaft_travel", "shaft_speed", "tyre_force",
)  # fmt: skip
KEPT: Final = ("acceleration", "extension", "tyre_deflection", "coefficient", "shaft_speed", "body_height")


@kernel(OUT2, IN2, IN2, OUT2, OUT2)
def look(state: Array, cars: Array, height: Array, seen: Array, kept: Array) -> None:
    """What the law sees (`SEEN`) and what is kept (`KEPT`)."""
    for case in range(state.shape[1]):
        sprung, unsprung, spring, tyre = cars[0, case], cars[1, case], cars[2, case], cars[3, case]
        extension = state[0, case] - state[2, case]
        speed = state[1, case] - state[3, case]
        coefficient = state[5, case] if speed >= 0.0 else state[4, case]
        deflection = state[2, case] - height[0, case]
        acceleration = (-spring * extension - coefficient * speed) / sprung
        seen[0, case] = state[1, case]
        seen[1, case] = state[3, case]
        seen[2, case] = acceleration
        seen[3, case] = -spring * extension
        seen[4, case] = STATIC_TRAVEL - extension
        seen[5, case] = -speed
        seen[6, case] = (sprung + unsprung) * GRAVITY - tyre * deflection
        kept[0, case] = acceleration
        kept[1, case] = extension
        kept[2, case] = deflection
        kept[3, case] = coefficient
        kept[4, case] = speed
        kept[5, case] = state[0, case]


@kernel(IN2, IN2, IN2, F8, OUT2)
def ask(state: Array, cars: Array, wanted: Array, is_force: float, goal: Array) -> None:
    """Coefficients that the valves are asked for: the duty's, or the force over the present shaft speed, within the damper's limits."""
    for case in range(state.shape[1]):
        speed = state[1, case] - state[3, case]
        soft, firm = cars[4, case], cars[5, case]
        for side in range(2):
            if is_force > 0.0:
                goal[side, case] = min(max(wanted[side, case] / max(abs(speed), 1e-12), soft), firm)
            else:
                goal[side, case] = soft + wanted[side, case] * (firm - soft)
        if cars[8, case] > 0.0:  # one valve for both sides, set by the sign of the shaft speed
            chosen = goal[1, case] if speed >= 0.0 else goal[0, case]
            goal[0, case] = chosen
            goal[1, case] = chosen


@inline
def _follow_ground(state: Array, cars: Array, height: Array, rate: Array, sample: int, case: int) -> None:
    """A fixed wheel is the ground."""
    if cars[6, case] > 0.0:
        state[2, case] = height[sample, case]
        state[3, case] = rate[sample, case]


@inline
def _valves(state: Array, cars: Array, goal: Array, h: float, case: int) -> float:
    """Both valves on their way; the coefficient of the side in use."""
    share = 1.0 - np.exp(-h / cars[7, case]) if cars[7, case] > 0.0 else 1.0
    for side in range(2):
        state[4 + side, case] += share * (goal[side, case] - state[4 + side, case])
    return float(state[5, case] if state[1, case] - state[3, case] >= 0.0 else state[4, case])


@inline
def _flow(y: Array, k: Array, cars: Array, c: float, case: int, height: float, rate: float) -> None:  # noqa: PLR0913 - scalars of one case
    """Rates of change `k` of heights and speeds `y`."""
    if cars[6, case] > 0.0:
        y[2] = height
        y[3] = rate
    force = -cars[2, case] * (y[0] - y[2]) - c * (y[1] - y[3])
    k[0] = y[1]
    k[1] = force / cars[0, case]
    k[2] = y[3]
    k[3] = (-force + cars[3, case] * (height - y[2])) / cars[1, case]


@kernel(OUT2, IN2, IN2, IN2, IN2, F8)
def advance(state: Array, cars: Array, goal: Array, height: Array, rate: Array, tick: float) -> None:
    """One tick: substeps of RK4, each with the side and the coefficient of its start; valves lag first-order."""
    substeps = (height.shape[0] - 1) // 2
    h = tick / substeps
    y, k, step = np.zeros(4), np.zeros(4), np.zeros(4)
    for case in range(state.shape[1]):
        for sub in range(substeps):
            _follow_ground(state, cars, height, rate, 2 * sub, case)
            c = _valves(state, cars, goal, h, case)
            step[:] = 0.0
            k[:] = 0.0
            for stage in range(4):
                at = (stage + 1) // 2  # samples after the start of the substep: 0, 1, 1, 2
                for row in range(4):
                    y[row] = state[row, case] + 0.5 * h * at * k[row]
                _flow(y, k, cars, c, case, height[2 * sub + at, case], rate[2 * sub + at, case])
                for row in range(4):
                    step[row] += (1.0 if stage in (0, 3) else 2.0) * k[row]
            for row in range(4):
                state[row, case] += h / 6.0 * step[row]
            _follow_ground(state, cars, height, rate, 2 * sub + 2, case)

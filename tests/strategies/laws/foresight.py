"""What a damper could do on one stretch of ground with foresight, and with none but patience: yardsticks for laws on a quarter car.

The coefficient is free within the damper's limits in steps of 5 ms, the valve ideal. `with_foresight` knows the ground;
`without_preview` plans 0.6 s ahead at each step as if the ground stayed as it is. Cost: mean square of the body's acceleration.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import expm
from scipy.optimize import minimize

from dualduty.kernels import F8, IN1, IN2, OUT2, kernel
from tests.strategies.laws.quarter_car import Corner

Array = NDArray[np.float64]

TICK: Final = 0.001
HELD: Final = 5  # ticks a coefficient is held
HORIZON: Final = 120  # coefficients, 0.6 s
SCALE: Final = 1000.0  # N·s/m, so that the search sees numbers near 1


@kernel(IN1, IN2, IN1, IN1, F8, OUT2, OUT2)
def _sweep(  # noqa: PLR0913 - a kernel takes flat arrays
    coefficients: Array, step: Array, numbers: Array, ground: Array, held: float, states: Array, slope: Array
) -> None:
    """States over the ticks, then backward the slope of the cost over each coefficient; `slope[1, 0]` is the cost.

    `step` is the 4 x 6 map of a tick: states, damper force, ground. `numbers` are spring and 1 over body mass.
    """
    ticks = len(ground)
    spring, light = numbers[0], numbers[1]
    slope[:] = 0.0
    for tick in range(ticks):
        x = states[tick]
        force = coefficients[tick // int(held)] * (x[1] - x[3])
        slope[1, 0] += ((spring * (x[0] - x[2]) + force) * light) ** 2 / ticks
        for row in range(4):
            states[tick + 1, row] = step[row, 4] * force + step[row, 5] * ground[tick]
            for column in range(4):
                states[tick + 1, row] += step[row, column] * x[column]
    after = np.zeros(4)
    before = np.zeros(4)
    for tick in range(ticks - 1, -1, -1):
        x = states[tick]
        c, speed = coefficients[tick // int(held)], x[1] - x[3]
        pushed = step[0, 4] * after[0] + step[1, 4] * after[1] + step[2, 4] * after[2] + step[3, 4] * after[3]
        pushed += 2.0 * (spring * (x[0] - x[2]) + c * speed) * light * light / ticks  # over the damper's force
        slope[0, tick // int(held)] += pushed * speed
        sprung = 2.0 * (spring * (x[0] - x[2]) + c * speed) * light * light / ticks * spring
        for column in range(4):
            before[column] = 0.0
            for row in range(4):
                before[column] += step[row, column] * after[row]
        before[0] += sprung
        before[1] += c * pushed
        before[2] -= sprung
        before[3] -= c * pushed
        after[:] = before


@dataclass(frozen=True)
class Stretch:
    """A corner over some ground, one height per tick, from rest."""

    corner: Corner
    ground: Array

    @cached_property
    def step(self) -> Array:
        """A tick with damper force and ground held."""
        k, m, wheel, tyre = self.corner.spring, self.corner.sprung, self.corner.unsprung, self.corner.tyre
        flow = np.zeros((6, 6))
        flow[0, 1] = flow[2, 3] = 1.0
        flow[1] = np.array([-k, 0.0, k, 0.0, -1.0, 0.0]) / m
        flow[3] = np.array([k, 0.0, -k - tyre, 0.0, 1.0, tyre]) / wheel
        return np.ascontiguousarray(expm(flow * TICK)[:4])

    def drive(self, coefficients: Array, ground: Array, start: Array) -> tuple[float, Array, Array]:
        """Cost, its slope over each coefficient, and the states."""
        states, slope = np.zeros((len(ground) + 1, 4)), np.zeros((2, max(len(coefficients), 2)))
        states[0] = start
        numbers = np.array([self.corner.spring, 1.0 / self.corner.sprung])
        _sweep(coefficients, self.step, numbers, ground, float(HELD), states, slope)
        return float(slope[1, 0]), slope[0, : len(coefficients)], states

    def best(self, first: Array, ground: Array, start: Array, rounds: int) -> Array:
        """Coefficients of a local optimum found from `first`."""

        def cost(scaled: Array) -> tuple[float, Array]:
            value, slope, _ = self.drive(scaled * SCALE, ground, start)
            return value, slope * SCALE

        limits = [(self.corner.soft / SCALE, self.corner.firm / SCALE)] * len(first)
        found = minimize(cost, first / SCALE, jac=True, method="L-BFGS-B", bounds=limits, options={"maxiter": rounds, "maxfun": 2 * rounds})
        return np.asarray(found.x * SCALE)

    def with_foresight(self, rounds: int = 600) -> float:
        """R.m.s. of body acceleration of the best of some starts, knowing the ground."""
        count = len(self.ground) // HELD
        starts = [np.full(count, level) for level in (600.0, 1500.0)]
        starts += [np.random.default_rng(1).uniform(self.corner.soft, self.corner.firm, count)]
        plans = [self.best(start, self.ground, np.zeros(4), rounds) for start in starts]
        return float(np.sqrt(min(self.drive(plan, self.ground, np.zeros(4))[0] for plan in plans)))

    def without_preview(self, rounds: int = 10) -> float:
        """R.m.s. of body acceleration when each step is planned as if the ground stayed."""
        plan, now = np.full(HORIZON, 800.0), np.zeros(4)
        used = np.empty(len(self.ground) // HELD)
        for index in range(len(used)):
            begin = index * HELD
            plan = self.best(plan, np.full(HORIZON * HELD, self.ground[begin]), now, rounds)
            used[index] = plan[0]
            _, _, states = self.drive(used[index : index + 1], self.ground[begin : begin + HELD], now)
            now = states[-1]
            plan = np.append(plan[1:], plan[-1])
        return float(np.sqrt(self.drive(used, self.ground, np.zeros(4))[0]))

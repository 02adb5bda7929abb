"""A linear car on four corners under a real law: heave, roll, pitch, four wheels; instantaneous valves, exact between ticks."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import expm

from dualduty.contract import Chunk
from dualduty.memory import Memory
from tests.strategies.laws.quarter_car import Lines

Array = NDArray[np.float64]

TICK: Final = 0.001
SPEED: Final = 12.0  # m/s


@dataclass(frozen=True)
class FullCar:
    """Body with its four corners; damper limits in N·s/m. Invented numbers of a light off-road vehicle. SI."""

    front_arm: float = 1.35
    wheelbase: float = 2.7
    half_track: float = 0.75
    sprung: float = 800.0
    roll_inertia: float = 320.0
    pitch_inertia: float = 1100.0
    unsprung: float = 35.0
    spring: float = 16e3
    tyre: float = 110e3
    soft: float = 350.0
    firm: float = 4500.0

    @cached_property
    def corners(self) -> Array:
        """Vertical speed of the corners over speeds of heave, roll and pitch: rows (1, y, -x)."""
        x = self.front_arm - self.wheelbase * np.array([0.0, 0.0, 1.0, 1.0])
        y = self.half_track * np.array([1.0, -1.0, 1.0, -1.0])
        return np.stack([np.ones(4), y, -x], axis=1)

    @cached_property
    def step(self) -> tuple[Array, Array]:
        """State after a tick over state (heave, roll, pitch, wheels, and their rates) and over inputs (forces on the body, ground)."""
        into = np.concatenate(
            [self.corners.T / np.array([[self.sprung], [self.roll_inertia], [self.pitch_inertia]]), -np.eye(4) / self.unsprung]
        )
        flow = np.zeros((22, 22))
        flow[:7, 7:14] = np.eye(7)
        flow[7:14, :7] = into @ (-self.spring * np.concatenate([self.corners, -np.eye(4)], axis=1))
        flow[10:14, 3:7] -= np.eye(4) * self.tyre / self.unsprung
        flow[7:14, 14:18] = into
        flow[10:14, 18:22] = np.eye(4) * self.tyre / self.unsprung
        whole = expm(flow * TICK)
        return whole[:14, :14], whole[:14, 14:]


def four_tracks(seeds: tuple[int, ...], roughness: float, seconds: float) -> Array:
    """Ground under the four wheels, (tick, corner, case): left and right independent, the rear wheels later by the wheelbase."""
    late = round(2.7 / SPEED / TICK)
    cases = []
    for seed in seeds:
        sides = [Lines.iso(roughness, SPEED, 100 * seed + side).ground(1, lead=4.0).height[::4, 0] for side in (0, 1)]
        front, rear = (np.stack([side[at : at + round(seconds / TICK)] for side in sides]) for at in (late, 0))
        cases.append(np.concatenate([front, rear]))
    return np.ascontiguousarray(np.stack(cases, axis=-1).transpose(1, 0, 2))


def corner_accelerations(car: FullCar, law: Any, ground: Array) -> Array:
    """Drive; vertical acceleration of the body at the corners, (tick, corner, case)."""
    on_state, on_input = car.step
    state = np.zeros((14, ground.shape[2]))
    memory = Memory(TICK)
    kept = np.empty_like(ground)
    for tick, height in enumerate(ground):
        before = state[7:10]
        memory.begin()
        demand = law.run(_seen(car, state), memory)
        memory.end()
        force = _given(car, car.corners @ before - state[10:14], demand.compression[:, 0], demand.rebound[:, 0])
        state = on_state @ state + on_input @ np.concatenate([force, height])
        kept[tick] = car.corners @ (state[7:10] - before) / TICK
    return kept


def _seen(car: FullCar, state: Array) -> Chunk:
    speeds = {
        name: np.ascontiguousarray(state[row : row + 1, None])
        for name, row in (("heave_speed", 7), ("net_roll_rate", 8), ("net_pitch_rate", 9))
    }
    body = np.ascontiguousarray((car.corners @ state[7:10])[:, None])
    return Chunk(TICK, {**speeds, "corner_speed": body, "specific_force_z": speeds["heave_speed"]})  # the last is read for its size only


def _given(car: FullCar, speed: Array, compression: Array, rebound: Array) -> Array:
    """Force on the body: what is asked of the side in use, as far as the damper goes."""
    size = np.abs(speed)
    return np.asarray(-np.sign(speed) * np.clip(np.where(speed >= 0.0, rebound, compression), car.soft * size, car.firm * size))

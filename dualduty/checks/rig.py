"""Made-up inputs for one plug-in, and a way to run it over them in any cut."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.contract import Chunk, Duty, Force, Given, State, misfit
from dualduty.discovery import Found, raised
from dualduty.lookup import Curve, Surface
from dualduty.memory import Memory, Snapshot
from dualduty.parameters import Declaration
from dualduty.signals import MIRRORED_CORNERS, SIDES, SIGNALS

Array = NDArray[np.float64]

DT: Final = 0.002
_QUANTITY_SIZE: Final = {"m/s": 2.0, "rad/s": 1.0, "rad": 0.15, "m/s²": 8.0, "N": 2000.0, "m": 0.1}
_ACTIVE_ABOVE: Final = 0.2  # of a wave within -1..1: a state is active for about a third of the time


class CheckFailed(AssertionError):  # noqa: N818 - reads as what it is
    """A plug-in does not satisfy one of the public checks."""


@dataclass(frozen=True)
class Rig:
    """One plug-in with what it reads: random, smooth, lively inputs of any length and number of cases."""

    found: Found
    given: Mapping[str, Given]
    car_values: Mapping[str, Any]

    def plug_in(self, values: Mapping[str, Any] | None = None) -> Any:
        """A fresh instance: declared defaults, the car's numbers, then `values`."""
        return self.found.cls(**{**self.car_values, **(values or {})})

    def inputs(self, ticks: int, cases: int, seed: int = 1, dt: float = DT) -> dict[str, Any]:
        """Everything the plug-in reads: sums of sines for signals and quantities, telegraph waves for states.

        One that reads nothing gets a signal that tells it ticks and cases.
        """
        names = self.found.reads or ("specific_force_z",)
        randoms = {name: np.random.default_rng([seed, index]) for index, name in enumerate(names)}
        return {name: self._input(name, (ticks, cases), random, dt) for name, random in randoms.items()}

    def _input(self, name: str, size: tuple[int, int], random: np.random.Generator, dt: float) -> Any:
        signal = SIGNALS.get(name)
        if signal is not None:
            reach = min(signal.high - signal.low, 40.0) * 0.25
            wave = _waves((signal.corners, *size), random, dt)
            return np.clip(signal.rest + reach * wave, signal.low, signal.high)
        given = self.given[name]
        wave = _waves((given.corners, *size), random, dt)
        if not given.is_state:
            return wave * _QUANTITY_SIZE.get(given.unit, 1.0)
        return State((wave > _ACTIVE_ABOVE).astype(float), np.clip(np.abs(wave), 0.0, 1.0))

    def wild(self, ticks: int, cases: int, seed: int) -> dict[str, Any]:
        """Everything the plug-in reads, at random at each tick, over all that is believed."""
        random = np.random.default_rng(seed)
        return {name: self._wild(name, (ticks, cases), random) for name in self.found.reads or ("specific_force_z",)}

    def _wild(self, name: str, size: tuple[int, int], random: np.random.Generator) -> Any:
        signal = SIGNALS.get(name)
        if signal is not None:
            return random.uniform(signal.low, signal.high, (signal.corners, *size))
        given = self.given[name]
        if given.is_state:
            return State(random.integers(0, 2, (given.corners, *size)).astype(float), random.uniform(0.0, 1.0, (given.corners, *size)))
        return random.uniform(-5.0, 5.0, (given.corners, *size)) * _QUANTITY_SIZE.get(given.unit, 1.0)

    def anywhere(self, cases: int, seed: int) -> dict[str, Any]:
        """Parameters anywhere in their ranges, and often at an end of them, one set per case; the car's numbers stay."""
        random = np.random.default_rng(seed)
        free = [declaration for name, declaration in self.found.parameters.items() if name not in self.car_values]
        values = {declaration.name: together([_drawn(declaration, random) for _ in range(cases)]) for declaration in free}
        for smaller, larger in getattr(self.found.cls, "ordered", ()):
            if isinstance(values.get(smaller), np.ndarray) and isinstance(values.get(larger), np.ndarray):
                values[smaller], values[larger] = np.minimum(values[smaller], values[larger]), np.maximum(values[smaller], values[larger])
        return values

    def run(
        self, inputs: Mapping[str, Any], cuts: Sequence[int], plug_in: Any = None, memory: Memory | None = None, dt: float = DT
    ) -> dict[str, Array]:
        """Outputs by name over the chunks between `cuts`, joined."""
        made = self.plug_in() if plug_in is None else plug_in
        tree = Memory(dt) if memory is None else memory
        parts = [self.call(made, cut(inputs, a, b), tree, dt) for a, b in pairwise(cuts)]
        if any(part.keys() != parts[0].keys() for part in parts):
            raise CheckFailed(f"outputs differ between chunks: {sorted({name for part in parts for name in part})}")
        return {name: np.concatenate([part[name] for part in parts], axis=1) for name in parts[0]}

    def call(self, plug_in: Any, inputs: Mapping[str, Any], memory: Memory, dt: float = DT) -> dict[str, Array]:
        """One call of `run`, as the framework makes it, with its outputs as plain arrays.

        Whatever the plug-in raises, and an output of another kind or shape than the framework takes, is a CheckFailed.
        """
        memory.begin()
        try:
            result = plug_in.run(Chunk(dt, inputs), memory)
            memory.end()
        except Exception as error:
            raise CheckFailed(raised(error, self.found.source)) from error
        first = next(iter(inputs.values()))
        size = (first.active if isinstance(first, State) else first).shape[1:]
        return self._taken(result, *size)

    def _taken(self, result: Any, ticks: int, cases: int) -> dict[str, Array]:
        """Outputs by name, as the framework takes them."""
        problem = misfit(self.found.gives, result, ticks, cases)
        if problem:
            raise CheckFailed(problem)
        if type(result).__name__ != self.found.returns:
            raise CheckFailed(f"run returned {type(result).__name__}; at rest, it returned {self.found.returns}")
        return plain(result)


def plain(result: Any) -> dict[str, Array]:
    """Outputs of any plug-in as arrays by name."""
    if isinstance(result, Duty | Force):
        return {side: value for side in SIDES if (value := getattr(result, side)) is not None}
    arrays = {}
    for name, value in result.items():
        if isinstance(value, State):
            arrays[name] = value.active
            if value.strength is not None:
                arrays[f"{name} strength"] = value.strength
        else:
            arrays[name] = value
    return arrays


def _waves(shape: tuple[int, int, int], random: np.random.Generator, dt: float) -> Array:
    """Sums of five sines between 0.3 and 12 Hz, about within -1..1, and a start at rest."""
    corners, ticks, cases = shape
    time = np.arange(ticks) * dt
    hz = random.uniform(0.3, 12.0, (5, corners, 1, cases))
    size = random.uniform(0.1, 0.5, hz.shape)
    phase = random.uniform(0.0, 2 * np.pi, hz.shape)
    wave = (size * np.sin(2 * np.pi * hz * time[None, None, :, None] + phase)).sum(axis=0)
    wave[:, 0, :] = 0.0
    return np.ascontiguousarray(wave)


def cut(inputs: Mapping[str, Any], start: int, end: int) -> dict[str, Any]:
    """A stretch of all inputs, as arrays of their own."""
    return {name: _each(value, lambda array: array[:, start:end].copy()) for name, value in inputs.items()}


def pick(inputs: Mapping[str, Any], cases: Sequence[int]) -> dict[str, Any]:
    """Some cases of all inputs."""
    return {name: _each(value, lambda array: np.ascontiguousarray(array[:, :, cases])) for name, value in inputs.items()}


def copied(inputs: Mapping[str, Any]) -> dict[str, Any]:
    """Deep copy of all inputs."""
    return {name: _each(value, np.copy) for name, value in inputs.items()}


def _each(value: Any, change: Any) -> Any:
    if isinstance(value, State):
        return State(change(value.active), None if value.strength is None else change(value.strength))
    return change(value)


def mirrored(arrays: Mapping[str, Any], signs: Mapping[str, int]) -> dict[str, Any]:
    """Left and right exchanged."""

    def swap(name: str, array: Array) -> Array:
        swapped = array[list(MIRRORED_CORNERS)] if array.shape[0] == len(MIRRORED_CORNERS) else array
        return np.ascontiguousarray(swapped * signs.get(name, 1))

    return {name: _each(value, lambda array, name=name: swap(name, array)) for name, value in arrays.items()}


def swept(declaration: Declaration, cases: int, seed: int) -> list[Any]:
    """A value per case for one parameter, within its range."""
    random = np.random.default_rng(seed)
    low, high = declaration.low, declaration.high
    if isinstance(declaration.default, Curve):
        curves = [random.uniform(low, high, declaration.default.values.shape) for _ in range(cases)]
        return [Curve(declaration.default.points, values) for values in curves]
    if isinstance(declaration.default, Surface):
        return [
            Surface(declaration.default.x_points, declaration.default.y_points, random.uniform(low, high, declaration.default.values.shape))
            for _ in range(cases)
        ]
    span = min(high, max(4 * abs(float(declaration.default)), low + 1e-3))
    return [float(value) for value in random.uniform(low, span, cases)]


def _drawn(declaration: Declaration, random: np.random.Generator) -> Any:
    """A value for one parameter: for a third each the lowest, the highest, and something between."""
    low, default = declaration.low, declaration.default
    high = declaration.high if np.isfinite(declaration.high) else low + 1e3

    def draw(shape: tuple[int, ...] = ()) -> Any:
        return random.choice([low, high, random.uniform(low, high)], shape)

    if isinstance(default, Curve):
        return Curve(default.points, draw(default.values.shape))
    if isinstance(default, Surface):
        return Surface(default.x_points, default.y_points, draw(default.values.shape))
    return float(draw())


def together(values: list[Any]) -> Any:
    """Values of several cases in one, as the framework binds them."""
    first = values[0]
    if isinstance(first, Curve):
        return Curve(first.points, np.stack([v.values for v in values], axis=-1)[:, None, :])
    if isinstance(first, Surface):
        return Surface(first.x_points, first.y_points, np.stack([v.values for v in values], axis=-1)[:, :, None, :])
    return np.array(values).reshape(1, 1, -1)


def same_snapshot(before: Snapshot, after: Snapshot) -> bool:
    """Equal to the bit."""
    return before.keys() == after.keys() and all(np.array_equal(before[k], after[k], equal_nan=True) for k in before)

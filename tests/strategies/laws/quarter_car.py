"""Quarter cars under a real law: linear corner, two valves with a lag, many cases at once; a fixed wheel makes it one mass on a base.

z body, zt wheel, zr ground (up), zd = z - zt (extension), v = zd' (rebound positive); damper force on the body -c v.
The law runs as the strategy runs it, tick by tick on a `Chunk`, with a motion ratio of 1.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.contract import Chunk, Duty
from dualduty.memory import Memory
from tests.strategies.laws.quarter_car_steps import KEPT, SEEN, advance, ask, look

Array = NDArray[np.float64]

SUBSTEPS: Final = 2  # RK4 steps per tick
VALVE_50_HZ: Final = 1.0 / (2.0 * np.pi * 50.0)


@dataclass(frozen=True)
class Corner:
    """A linear corner and the limits of its damper; floats, or (case,) arrays. SI."""

    sprung: Any
    unsprung: Any
    spring: Any
    tyre: Any
    soft: Any
    firm: Any
    fixed_wheel: Any = 0.0


# Two corners: A lies close to the examples of Savaresi et al. (from memory), B is that of a light off-road vehicle, chosen here.
SET_A: Final = Corner(400.0, 50.0, 20e3, 250e3, 300.0, 4000.0)
SET_B: Final = Corner(200.0, 35.0, 16e3, 110e3, 350.0, 4500.0)


@dataclass(frozen=True)
class Ground:
    """Height and rate of the ground at every half substep, (sample, case)."""

    height: Array
    rate: Array
    tick: float = 0.001
    substeps: int = SUBSTEPS

    @property
    def ticks(self) -> int:
        """How many ticks it lasts."""
        return (len(self.height) - 1) // (2 * self.substeps)

    def scaled(self, factors: Any) -> Ground:
        """The same ground, higher by a factor per case."""
        return replace(self, height=self.height * factors, rate=self.rate * factors)

    def stepped_once(self) -> Ground:
        """The same ground with a tick at each substep: control at every step of the plant."""
        return replace(self, tick=self.tick / self.substeps, substeps=1)


def sines(hertz: Any, seconds: float, size: float = 0.001, tick: float = 0.001) -> Ground:
    """One sine per case."""
    turn = 2.0 * np.pi * np.atleast_1d(np.asarray(hertz, float))
    samples = np.arange(round(seconds / tick) * 2 * SUBSTEPS + 1)[:, None]
    phase = turn * samples * (tick / (2 * SUBSTEPS))
    return Ground(size * np.sin(phase), size * turn * np.cos(phase), tick)


@dataclass(frozen=True)
class Lines:
    """Random ground of ISO 8608 shape as a sum of lines, the same again after `period`."""

    hertz: Array
    size: Array
    phase: Array
    period: float

    @classmethod
    def iso(cls, roughness: float, speed: float, seed: int, period: float = 8.0) -> Lines:
        """Roughness is the displacement density at 0.1 cycles/m [m³]; density falls with frequency squared; 0.25 to 40 Hz."""
        hertz = np.arange(round(0.25 * period), round(40.0 * period)) / period
        size = np.sqrt(2.0 * roughness * 0.1**2 * speed / hertz**2 / period)
        return cls(hertz, size, np.random.default_rng(seed).uniform(0.0, 2.0 * np.pi, len(hertz)), period)

    def rms(self, response: Any) -> Array:
        """Root mean square of a linear response, whose transfer function of s is given, over this ground. (case,)"""
        gains = np.abs(response(2j * np.pi * self.hertz[:, None]))
        return np.asarray(np.sqrt(0.5 * np.sum((self.size[:, None] * gains) ** 2, axis=0)))

    def ground(self, cases: int, lead: float = 3.0, tick: float = 0.001) -> Ground:
        """The same ground under every case: `lead` seconds to settle, then one period."""
        count = round(self.period / tick) * 2 * SUBSTEPS
        spectrum = np.zeros(count // 2 + 1, complex)
        index = np.round(self.hertz * self.period).astype(int)
        spectrum[index] = 0.5 * count * self.size * np.exp(1j * self.phase)
        turning = 2j * np.pi * np.arange(len(spectrum)) / self.period
        before = round(lead / tick) * 2 * SUBSTEPS
        waves = [np.fft.irfft(each, count) for each in (spectrum, spectrum * turning)]
        long = [np.concatenate([wave[count - before :], wave, wave[:1]]) for wave in waves]
        height, rate = (np.repeat(wave[:, None], cases, axis=1) for wave in long)
        return Ground(height, rate, tick)


def beside(grounds: list[Ground]) -> Ground:
    """One ground of several, a case each or more."""
    height, rate = (np.concatenate([getattr(ground, name) for ground in grounds], axis=1) for name in ("height", "rate"))
    return replace(grounds[0], height=height, rate=rate)


@dataclass(frozen=True)
class Drive:
    """What the quarter cars did: (tick, case) arrays by name."""

    kept: Array
    tick: float

    def __getattr__(self, name: str) -> Array:
        if name not in KEPT:
            raise AttributeError(name)
        return self.kept[:, KEPT.index(name)]

    def rms(self, name: str, seconds: float) -> Array:
        """Root mean square over the last seconds, (case,)."""
        last: Array = getattr(self, name)[-round(seconds / self.tick) :]
        return np.asarray(np.sqrt(np.mean(last**2, axis=0)))

    def first_harmonic(self, name: str, hertz: Any, seconds: float) -> Array:
        """Amplitude at `hertz` over the last whole periods within `seconds`, (case,); a Hann window keeps other motion out."""
        signal: Array = getattr(self, name)
        found = []
        for case, hz in enumerate(np.broadcast_to(hertz, signal.shape[1:])):
            count = round(np.floor(seconds * hz + 1e-9) / hz / self.tick)
            phase = 2.0 * np.pi * hz * self.tick * np.arange(count)
            basis = np.stack([np.sin(phase), np.cos(phase), np.ones(count)], axis=1)
            weight = np.sin(np.pi * (np.arange(count) + 0.5) / count)  # its square weighs the errors
            sine, cosine, _ = np.linalg.lstsq(basis * weight[:, None], signal[-count:, case] * weight, rcond=None)[0]
            found.append(np.hypot(sine, cosine))
        return np.array(found)


@dataclass(frozen=True)
class Bench:
    """Corners with their valves; drives a law over a ground."""

    corner: Corner
    valve_time: Any = VALVE_50_HZ  # s; these two also (case,) arrays
    one_valve: Any = False

    def drive(self, law: Any, ground: Ground, start: Array | None = None) -> Drive:
        """Run `law` in closed loop; its parameters may differ by case, (1, 1, case). `start`: (6, case), rows of a state."""
        cases = ground.height.shape[1]
        run = _Run(law, ground, self._table(cases), np.zeros((6, cases)) if start is None else start.copy())
        kept = np.empty((ground.ticks, len(KEPT), cases))
        for tick in range(ground.ticks):
            run.advance(tick, kept[tick])
        return Drive(kept, ground.tick)

    def _table(self, cases: int) -> Array:
        values = [*(getattr(self.corner, entry.name) for entry in fields(self.corner)), self.valve_time, self.one_valve]
        return np.stack([np.broadcast_to(np.asarray(value, float), (cases,)) for value in values])


@dataclass(frozen=True)
class _Run:
    law: Any
    ground: Ground
    cars: Array
    state: Array

    @cached_property
    def seen(self) -> Array:
        return np.zeros((len(SEEN), self.state.shape[1]))

    @cached_property
    def goal(self) -> Array:
        return np.zeros((2, self.state.shape[1]))

    @cached_property
    def memory(self) -> Memory:
        return Memory(self.ground.tick)

    @cached_property
    def now(self) -> Chunk:
        """Views of `seen`, which each tick fills anew."""
        rows = {name: self.seen[row][None, None] for row, name in enumerate(SEEN)}
        return Chunk(self.ground.tick, {**rows, "specific_force_z": rows["corner_acceleration"]})  # read where only sizes count

    def advance(self, tick: int, kept: Array) -> None:
        begin = tick * 2 * self.ground.substeps
        height, rate = (wave[begin : begin + 2 * self.ground.substeps + 1] for wave in (self.ground.height, self.ground.rate))
        look(self.state, self.cars, height, self.seen, kept)
        self.memory.begin()
        asked = self.law.run(self.now, self.memory)
        self.memory.end()
        wanted = np.concatenate([asked.compression[0], asked.rebound[0]])  # all four corners are this one
        ask(self.state, self.cars, wanted, 0.0 if isinstance(asked, Duty) else 1.0, self.goal)
        advance(self.state, self.cars, self.goal, height, rate, self.ground.tick)


def passive_acceleration(corner: Corner, damping: Array) -> Callable[[Any], Any]:
    """Body acceleration over ground height of the linear quarter car, as a function of s. [1/s²]"""

    def response(s: Any) -> Any:
        link = damping * s + corner.spring
        wheel = corner.unsprung * s**2 + link + corner.tyre
        return s**2 * link * corner.tyre / ((corner.sprung * s**2 + link) * wheel - link**2)

    return response


def by_case(values: Any) -> Any:
    """Parameter values of a law, one per case: (1, 1, case)."""
    return np.asarray(values, float).reshape(1, 1, -1)

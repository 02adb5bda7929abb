"""The plug-in contract: a frozen dataclass of parameters with one method, `run(now, memory)`.

An estimator or detector says what it `gives`; a law gives nothing and returns a `Duty` or a `Force`. A law that says
`trims = True` asks for a difference, which may be negative, and stands in `add` layers only. The same code runs
one tick at a time in the closed loop, thousands at a time over a log, and with hundreds of cases in a sweep.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from dualduty.memory import Memory
from dualduty.signals import SIDES

Array = NDArray[np.float64]

__all__ = ["Chunk", "Duty", "Force", "Given", "Memory", "PlugIn", "State", "quantity", "state"]


@dataclass(frozen=True)
class Given:
    """Something a plug-in publishes: a quantity with a unit, or a state."""

    name: str
    unit: str
    corners: int
    is_state: bool
    mirror: int
    meaning: str


def quantity(name: str, unit: str, meaning: str, *, corners: int = 4, mirror: int = 1) -> Given:
    """Declare an estimated quantity; `mirror=-1` when it changes sign with left and right exchanged."""
    return Given(name, unit, corners, False, mirror, meaning)


def state(name: str, meaning: str, *, corners: int = 1) -> Given:
    """Declare a detected state, of the whole vehicle (one corner) or by corner (four)."""
    return Given(name, "1", corners, True, 1, meaning)


@dataclass(frozen=True, slots=True)
class State:
    """A detected state over a chunk.

    active : (1 or 4, time, case) array
        1 where the state is reported, else 0.
    strength : (1 or 4, time, case) array, optional
        How strongly, 0..1; 1 where not given.
    """

    active: Array
    strength: Array | None = None


@dataclass(frozen=True, slots=True)
class Duty:
    """What a law asks for, per side; None leaves that side to what lies beneath.

    compression, rebound : (1 or 4, time, case) array or None
        Duty 0 soft .. 1 firm. [1]
    """

    compression: Array | None = None
    rebound: Array | None = None


@dataclass(frozen=True, slots=True)
class Force:
    """What a law asks for as damper shaft force, per side; mapped to duty by the layer that holds it.

    compression, rebound : (1 or 4, time, case) array or None
        Wanted damper force against compression and against rebound, both positive. [N]
    """

    compression: Array | None = None
    rebound: Array | None = None


class Chunk:
    """Signals, quantities and states over some consecutive ticks, as attributes.

    Signals and quantities are (corner, time, case) arrays, states are `State`. `dt` is the step between ticks [s].
    """

    def __init__(self, dt: float, values: Mapping[str, Any]) -> None:
        self.__dict__.update(values)
        self.__dict__["dt"] = dt

    def __setattr__(self, name: str, value: Any) -> None:
        raise AttributeError(f"a plug-in reads its inputs and returns its outputs; {name!r} can't be set here")

    def __getattr__(self, name: str) -> Any:
        near = difflib.get_close_matches(name, self.__dict__, n=1)
        raise AttributeError(f"no signal, quantity or state {name!r} here" + (f"; did you mean {near[0]!r}?" if near else ""))

    def add(self, values: Mapping[str, Any]) -> None:
        """Publish what an estimator or detector gave; the framework does this."""
        self.__dict__.update(values)


@runtime_checkable
class PlugIn(Protocol):
    """Anything with `run`: the whole contract beyond the dataclass itself."""

    def run(self, now: Chunk, memory: Memory) -> Any:
        """Map a chunk of inputs to a chunk of outputs, advancing `memory`."""


def gives_of(plug_in: type) -> tuple[Given, ...]:
    """What a plug-in class publishes; empty for a law."""
    return tuple(getattr(plug_in, "gives", ()))


def kind_of(plug_in: type) -> str:
    """`estimator`, `detector` or `law`, by what the class gives."""
    given = gives_of(plug_in)
    if not given:
        return "law"
    return "detector" if any(entry.is_state for entry in given) else "estimator"


def wrong_shape(name: str, array: Any, corners: Iterable[int], ticks: int, cases: int) -> str:
    """What is wrong with an output array, in words; empty when nothing is."""
    if not isinstance(array, np.ndarray):
        return f"{name} is {type(array).__name__}; expected a (corner, time, case) array"
    if array.ndim != 3 or array.shape[0] not in corners or array.shape[1] != ticks or array.shape[2] != cases:  # noqa: PLR2004
        wanted = " or ".join(str(count) for count in corners)
        return f"{name} has shape {array.shape}; expected ({wanted}, {ticks}, {cases}) = (corner, time, case)"
    if array.dtype != np.float64:
        return f"{name} is an array of {array.dtype}; expected float64"
    return ""


def misfit(gives: tuple[Given, ...], result: Any, ticks: int, cases: int) -> str:
    """What is wrong with what `run` returned, in words; empty when the framework can take it."""
    if not gives:
        if not isinstance(result, Duty | Force):
            return f"run returned {type(result).__name__}; a law returns Duty or Force"
        sides = [(side, getattr(result, side)) for side in SIDES]
        return _first(wrong_shape(side, array, (1, 4), ticks, cases) for side, array in sides if array is not None)
    names = sorted(given.name for given in gives)
    if not isinstance(result, dict) or sorted(result) != names:
        return f"run returned {sorted(result) if isinstance(result, dict) else type(result).__name__}; expected a dict of {names}"
    return _first(_misfit_of_one(given, result[given.name], ticks, cases) for given in gives)


def _misfit_of_one(given: Given, value: Any, ticks: int, cases: int) -> str:
    if given.is_state != isinstance(value, State):
        return f"{given.name} is {type(value).__name__}; expected {'State(active, strength)' if given.is_state else 'an array'}"
    arrays = [(given.name, value)]
    if isinstance(value, State):
        arrays = [(given.name, value.active)] + ([] if value.strength is None else [(f"{given.name} strength", value.strength)])
    return _first(wrong_shape(name, array, (given.corners,), ticks, cases) for name, array in arrays)


def _first(problems: Iterable[str]) -> str:
    return next((problem for problem in problems if problem), "")

"""The whole strategy: intake, estimators and detectors, layers of laws, supervisor.

Every chunk is cut wherever any case changes drive mode, so parameters are constant within each call of a plug-in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.bind import bind
from dualduty.calibration.model import Calibration, LayerPlan
from dualduty.contract import Chunk, Duty, Force, State, misfit, wrong_shape
from dualduty.controller import ControllerOutput
from dualduty.discovery import Found, PlugIns, raised
from dualduty.errors import BadInput
from dualduty.memory import Memory, MemoryMisuse, Snapshot
from dualduty.signals import CONTROLLER_LAYOUT, SIDES, SIGNALS
from strategies.demand_maps import DemandMaps
from strategies.intake import Intake
from strategies.layer import LayerSettings, Mapping, Stack, join_forces
from strategies.supervisor import Supervisor

Array = NDArray[np.float64]
_FLOAT: Final = np.dtype(np.float64)


class StrategyMemory:
    """One memory tree per part of the strategy; can be saved, copied and resumed."""

    def __init__(self, dt: float) -> None:
        self.dt = dt
        self.trees: dict[str, Memory] = {}

    def open(self, name: str, binding: Any) -> Memory:
        """The tree of one part, with a call begun."""
        tree = self.trees.get(name)
        if tree is None:
            tree = self.trees[name] = Memory(self.dt)
        tree.begin(binding)
        return tree

    def snapshot(self) -> dict[str, Snapshot]:
        """All states, by reference."""
        return {name: tree.snapshot() for name, tree in self.trees.items()}

    def restore(self, snapshot: dict[str, Snapshot]) -> None:
        """Go on from a snapshot."""
        self.trees = {}
        for name, states in snapshot.items():
            self.trees[name] = Memory(self.dt)
            self.trees[name].restore(states)


@dataclass(frozen=True)
class _Bound:
    """All parts with their parameters for one row of drive modes."""

    key: bytes
    intake: Intake
    suppliers: tuple[Any, ...]
    layers: tuple[tuple[LayerSettings, tuple[Any, ...]], ...]
    supervisor: Supervisor


class Strategy:
    """A controller made of calibrations that share one structure, one candidate per case.

    Parameters
    ----------
    calibrations : sequence of Calibration
        Candidates; all of one structure.
    candidate_of_case : sequence of int
        Which candidate each case runs.
    plug_ins : PlugIns
        Where the classes come from.
    dt : float
        Step between ticks. [s]
    """

    def __init__(self, calibrations: Sequence[Calibration], candidate_of_case: Sequence[int], plug_ins: PlugIns, dt: float) -> None:
        first = calibrations[0]
        for other in calibrations[1:]:
            if other.structure != first.structure:
                raise BadInput(other.file, f"has other layers or suppliers than {first.file}; such candidates need a batch of their own")
        self.calibrations = tuple(calibrations)
        self.candidate_of_case = tuple(candidate_of_case)
        self.dt = dt
        self.cases = len(self.candidate_of_case)
        self.modes = first.modes
        self.plans: tuple[LayerPlan, ...] = first.layers
        self.layers = tuple(plan.name for plan in first.layers)
        self._suppliers = tuple(plug_ins.by_name[name] for name in first.suppliers)
        self._laws = tuple(tuple(plug_ins.by_name[law] for law in plan.laws) for plan in first.layers)
        self.states = tuple(given.name for found in self._suppliers for given in found.gives if given.is_state)
        self.uses_force = any(law.returns == "Force" for laws in self._laws for law in laws)
        self._maps = DemandMaps.of(first.car)
        self._bindings: dict[bytes, _Bound] = {}
        read = {name for found in (*self._suppliers, *(law for laws in self._laws for law in laws)) for name in found.reads}
        self.used = tuple(name for name in SIGNALS if name in read)

    def start(self) -> StrategyMemory:
        """Fresh memory for all cases."""
        return StrategyMemory(self.dt)

    def run(self, sensed: Array, mode: NDArray[np.int16], memory: StrategyMemory) -> ControllerOutput:
        """Advance `memory` over a chunk.

        sensed : (row, time, case) array
            Rows by `CONTROLLER_LAYOUT`. [SI]
        mode : (1, time, case) int16 array
            Drive-mode index.
        """
        ticks = sensed.shape[1]
        cuts = [0, ticks] if ticks == 1 else _cuts(mode)
        if len(cuts) == 2:  # noqa: PLR2004 - start and end: no change of mode
            return self._run_constant(sensed, mode[0, 0], memory)
        parts = [self._run_constant(np.ascontiguousarray(sensed[:, a:b]), mode[0, a], memory) for a, b in pairwise(cuts)]
        return _joined(parts)

    def _run_constant(self, sensed: Array, modes: NDArray[np.int16], memory: StrategyMemory) -> ControllerOutput:
        bound = self._bound(modes)
        clean, believed = self._take_in(bound, sensed, memory)
        now = Chunk(self.dt, CONTROLLER_LAYOUT.split(clean))
        valid = CONTROLLER_LAYOUT.split(believed)
        quantities: dict[str, Array] = {}
        states: dict[str, Array] = {}
        strengths: dict[str, Array] = {}
        for found, plug_in in zip(self._suppliers, bound.suppliers, strict=True):
            self._supply(found, plug_in, now, memory.open(found.name, bound.key), (quantities, states, strengths))
        stack = self._lay_all(bound, now, memory)
        tree = memory.open("supervisor", bound.key)
        duty, flags = bound.supervisor.run(stack.duty, valid, self.used, tree)
        tree.end()
        for side in SIDES:
            flags[side] |= stack.flags[side]
        return ControllerOutput(valid, quantities, states, strengths, stack.duty, duty, stack.layer, flags)

    def _bound(self, modes: NDArray[np.int16]) -> _Bound:
        key = modes.tobytes()
        bound = self._bindings.get(key)
        if bound is None:
            bound = self._bindings[key] = self._bind(key, [int(mode) for mode in modes])
        return bound

    def _bind(self, key: bytes, modes: list[int]) -> _Bound:
        unknown = [mode for mode in modes if not 0 <= mode < len(self.modes)]
        if unknown:
            raise BadInput("drive mode", f"expected an index of {', '.join(self.modes)}, got {unknown[0]}")
        rows = (self.candidate_of_case, modes)
        each = self.calibrations
        suppliers: list[Any] = [
            bind(found.cls, [c.settings[f"{found.kind}s.{found.name}"] for c in each], *rows) for found in self._suppliers
        ]
        layers = []
        for index, laws in enumerate(self._laws):
            settings = bind(LayerSettings, [c.layers[index].settings for c in each], *rows)
            bound_laws: list[Any] = [bind(law.cls, [c.layers[index].law_settings[law.name] for c in each], *rows) for law in laws]
            layers.append((settings, tuple(bound_laws)))
        intake = bind(Intake, [c.settings["intake"] for c in each], *rows)
        supervisor = bind(Supervisor, [c.settings["supervisor"] for c in each], *rows)
        return _Bound(key, intake, tuple(suppliers), tuple(layers), supervisor)

    def _take_in(self, bound: _Bound, sensed: Array, memory: StrategyMemory) -> tuple[Array, Array]:
        tree = memory.open("intake", bound.key)
        clean, believed = bound.intake.run(sensed, tree)
        tree.end()
        clean.flags.writeable = False  # a plug-in that writes to its input is told so
        return clean, believed

    def _supply(self, found: Found, plug_in: Any, now: Chunk, tree: Memory, into: tuple[dict[str, Array], ...]) -> None:
        result = _called(found, plug_in, now, tree)
        quantities, states, strengths = into
        size: tuple[int, int] = now.specific_force_z.shape[1:]
        if not isinstance(result, dict) or len(result) != len(found.gives):
            raise BadInput(_where(found), misfit(found.gives, result, *size))
        for given in found.gives:
            name, value = given.name, result.get(given.name)
            if value is None or (given.is_state and not isinstance(value, State)):
                raise BadInput(_where(found), misfit(found.gives, result, *size))
            if given.is_state:
                active, strength = value.active, value.strength
                states[name] = _shaped(found, name, active, (given.corners,), size)
                strengths[name] = active if strength is None else _shaped(found, f"{name} strength", strength, (given.corners,), size)
            else:
                quantities[name] = _shaped(found, name, value, (given.corners,), size)
        now.add(result)

    def _lay_all(self, bound: _Bound, now: Chunk, memory: StrategyMemory) -> Stack:
        ticks = now.specific_force_z.shape[1]
        stack = Stack.empty(ticks, self.cases)
        asked: list[tuple[Found, Duty | Force]] = []
        mapping = None
        if self.uses_force:
            mapping = Mapping(self._maps, {side: getattr(now, f"reference_speed_{side}") for side in SIDES})
        for index, (plan, (settings, laws)) in enumerate(zip(self.plans, bound.layers, strict=True)):
            tree = memory.open(f"layers.{plan.name}", bound.key)
            share = settings.opening(now, plan.when, plan.unless, tree)
            tree.end()
            demands = [
                self._demand(found, law, now, memory.open(f"layers.{plan.name}.{found.name}", bound.key))
                for found, law in zip(self._laws[index], laws, strict=True)
            ]
            stack.lay(index, plan.act, share, demands[0] if len(demands) == 1 else join_forces(demands, plan.join), mapping)
            asked += zip(self._laws[index], demands, strict=True)
        if not all(np.isfinite(duty).all() for duty in stack.duty.values()):
            raise self._not_a_number(now, asked)
        return stack

    def _demand(self, found: Found, law: Any, now: Chunk, tree: Memory) -> Any:
        demand = _called(found, law, now, tree)
        if not isinstance(demand, Duty | Force):
            raise BadInput(_where(found), f"run returned {type(demand).__name__}; a law returns Duty or Force")
        size: tuple[int, int] = now.specific_force_z.shape[1:]
        for side in SIDES:
            wanted = getattr(demand, side)
            if wanted is not None:
                _shaped(found, side, wanted, (1, 4), size)
        return demand

    def _not_a_number(self, now: Chunk, asked: list[tuple[Found, Duty | Force]]) -> BadInput:
        """Names the first plug-in, in running order, of which something is not a number."""
        gave = [(found, given.name, getattr(now, given.name)) for found in self._suppliers for given in found.gives]
        given_arrays = [(found, name, value.active if isinstance(value, State) else value) for found, name, value in gave]
        wanted = [(found, f"{side} {type(demand).__name__.lower()}", getattr(demand, side)) for found, demand in asked for side in SIDES]
        for found, name, array in (*given_arrays, *wanted):
            if array is not None and not np.isfinite(array).all():
                corner, tick, case = (int(index) for index in np.argwhere(~np.isfinite(array))[0])
                return BadInput(_where(found), f"{name} is not a number (corner {corner}, tick {tick} of the chunk, case {case})")
        return BadInput("strategy", "the duty of the layers together is not a number")


def _where(found: Found) -> str:
    return f"{found.source}: {found.name}"


def _called(found: Found, plug_in: Any, now: Chunk, tree: Memory) -> Any:
    try:
        result = plug_in.run(now, tree)
        tree.end()
    except BadInput:
        raise
    except MemoryMisuse as error:
        raise BadInput(_where(found), str(error)) from error
    except Exception as error:
        raise BadInput(_where(found), raised(error, found.source)) from error
    return result


def _shaped(found: Found, name: str, array: Any, corners: tuple[int, ...], size: tuple[int, int]) -> Array:
    """`array`, closed to writing, when it is float64 (one of corners, time, case); BadInput otherwise."""
    shape: tuple[int, ...] = getattr(array, "shape", ())
    if not shape or shape[1:] != size or shape[0] not in corners or array.dtype != _FLOAT:
        raise BadInput(_where(found), wrong_shape(name, array, corners, *size))
    array.setflags(write=False)  # what later plug-ins read, none of them may change
    return array  # type: ignore[no-any-return]


def _cuts(mode: NDArray[np.int16]) -> list[int]:
    changes = np.flatnonzero((mode[0, 1:] != mode[0, :-1]).any(axis=1)) + 1
    return [0, *(int(change) for change in changes), mode.shape[1]]


def _joined(parts: list[ControllerOutput]) -> ControllerOutput:
    joined = {}
    for entry in fields(ControllerOutput):
        values = [getattr(part, entry.name) for part in parts]
        joined[entry.name] = {key: np.concatenate([value[key] for value in values], axis=1) for key in values[0]}
    return ControllerOutput(**joined)

"""The whole strategy: intake, estimators and detectors, layers of laws, supervisor.

Every chunk is cut wherever any case changes drive mode, so parameters are constant within each call of a plug-in.
All parts work on one board (`strategies.board`): a plug-in in tick form is one compiled call on its rows, one in array
form gets arrays made of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.bind import bind
from dualduty.calibration.model import Calibration, LayerPlan
from dualduty.contract import Duty, Force, State, misfit, wrong_shape
from dualduty.controller import PackedOutput, Record, joined_packed
from dualduty.discovery import Found, PlugIns, raised
from dualduty.each_tick import STRENGTH, TickPlan, plan_of
from dualduty.errors import BadInput
from dualduty.lookup import full
from dualduty.memory import Memory, MemoryMisuse, Snapshot
from dualduty.roles import role_of
from dualduty.signals import SIDES, SIGNALS
from strategies.board import CLEAN, FAULT, VALID, BoardChunk, BoardLayout
from strategies.dependence import corner_of_rows, need_rows, needs_of, spared
from strategies.intake import Intake
from strategies.layer import LayerSettings, layer_record, too_many
from strategies.stack import LAYER, STATE, stack_kernel
from strategies.supervisor import Supervisor

Array = NDArray[np.float64]
_FLOAT: Final = np.dtype(np.float64)
BLOCK: Final = 2048  # ticks x cases of a piece: its board stays in the second cache
AMBIENT: Final = 20.0  # degrees Celsius, where nothing estimates the dampers' temperature
_WARMTH: Final = "damper_temperature"
_REFERENCES: Final = tuple(f"reference_speed_{side}" for side in SIDES)


class StrategyMemory:
    """What the parts of a strategy remember: a row of numbers per case, or a tree for parts in array form.

    It can be saved, copied and resumed.
    """

    def __init__(self, dt: float) -> None:
        self.dt = dt
        self.rows: dict[str, Array] = {}
        self.trees: dict[str, Memory] = {}

    def open(self, name: str, binding: Any) -> Memory:
        """The tree of one part, with a call begun."""
        tree = self.trees.get(name)
        if tree is None:
            tree = self.trees[name] = Memory(self.dt)
        tree.begin(binding)
        return tree

    def numbers(self, name: str, cases: int, count: int) -> Array:
        """The numbers of one part, (case, count), to be advanced in place; zero at first."""
        found = self.rows.get(name)
        if found is None:
            found = self.rows[name] = np.zeros((cases, count))
        return found

    def snapshot(self) -> dict[str, Snapshot]:
        """All states: numbers copied, trees by reference, since theirs are never changed in place."""
        rows = {f"rows/{name}": {"": numbers.copy()} for name, numbers in self.rows.items()}
        return rows | {name: tree.snapshot() for name, tree in self.trees.items()}

    def restore(self, snapshot: dict[str, Snapshot]) -> None:
        """Go on from a snapshot."""
        self.rows, self.trees = {}, {}
        for name, states in snapshot.items():
            if name.startswith("rows/"):
                self.rows[name.removeprefix("rows/")] = states[""].copy()
            else:
                self.trees[name] = Memory(self.dt)
                self.trees[name].restore(states)


@dataclass(frozen=True)
class _Part:
    """A plug-in at its place: which rows it reads and writes. `demand` is a law's place, empty for a supplier."""

    name: str
    found: Found
    plan: TickPlan | None
    demand: str
    read: NDArray[np.int64]
    write: NDArray[np.int64]

    @classmethod
    def at(cls, found: Found, layout: BoardLayout, layer: str = "") -> _Part:
        demand = f"{layer}.{found.name}." if layer else ""
        plan = plan_of(found.cls)
        rows = layout.of_plan(plan, demand) if plan else (np.zeros(0, np.int64), np.zeros(0, np.int64))
        return cls(f"layers.{layer}.{found.name}" if layer else found.name, found, plan, demand, *rows)


@dataclass(frozen=True)
class _Bound:
    """All parts with their parameters for one row of drive modes."""

    key: bytes
    modes: Array
    intake: Intake
    suppliers: tuple[tuple[_Part, Any], ...]
    laws: tuple[tuple[_Part, Any], ...]
    layers: Array
    fallback: Array
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
        suppliers = tuple(plug_ins.by_name[name] for name in first.suppliers)
        laws = tuple(tuple(plug_ins.by_name[law] for law in plan.laws) for plan in first.layers)
        self.states = tuple(given.name for found in suppliers for given in found.gives if given.is_state)
        read = {name for found in (*suppliers, *(law for each in laws for law in each)) for name in found.reads}
        self.used = tuple(name for name in SIGNALS if name in read)
        self.layout = BoardLayout(suppliers, tuple(zip(self.plans, laws, strict=True)))
        self._suppliers = tuple(_Part.at(found, self.layout) for found in suppliers)
        self._laws = tuple(_Part.at(law, self.layout, plan.name) for plan, each in zip(self.plans, laws, strict=True) for law in each)
        self._set_stack(first, suppliers, laws)
        self._bindings: dict[bytes, _Bound] = {}

    def _set_stack(self, first: Calibration, suppliers: tuple[Found, ...], laws: tuple[tuple[Found, ...], ...]) -> None:
        """What the compiled pass over the layers needs to know and no value changes."""
        rows = self.layout.rows
        for plan in self.plans:
            if problem := too_many(plan):
                raise BadInput(f'{first.file}: layer "{plan.name}"', problem)
        records = [layer_record(plan, each, rows) for plan, each in zip(self.plans, laws, strict=True)]
        self._records = np.array(records, LAYER)
        givers = {given.name: found for found in suppliers for given in found.gives}
        self.needs = tuple(_layer_needs(plan, each, givers) for plan, each in zip(self.plans, laws, strict=True))
        self._needs = np.stack([need_rows(needs) for needs in self.needs])
        self.required = tuple(name for name in SIGNALS if any(name in needs for needs in self.needs))
        self._corner_of_rows = corner_of_rows()
        maps = [first.car.damper_map(side, corner) for side in SIDES for corner in (0, 2)]
        starts = np.cumsum([0, *(entry.packed.size for entry in maps)])[:-1]
        references = [rows.get(name, (-1, 0))[0] for name in _REFERENCES]
        self._maps = np.concatenate([entry.packed for entry in maps])
        self._places = np.array([*starts, *references, self.layout.demands], np.int64)

    def start(self) -> StrategyMemory:
        """Fresh memory for all cases."""
        return StrategyMemory(self.dt)

    def run(self, sensed: Array, mode: NDArray[np.int16], memory: StrategyMemory, *, record: bool = False) -> PackedOutput:
        """Advance `memory` over a chunk.

        sensed : (row, time, case) array
            Rows by `CONTROLLER_LAYOUT`. [SI]
        mode : (1, time, case) int16 array
            Drive-mode index.
        record : bool
            Whether to note what each layer asked for.
        """
        if sensed.shape[1] == 1:
            return self._run_constant(sensed, mode[0, 0], memory, record=record)
        pairs = pairwise(_cuts(mode, max(BLOCK // self.cases, 1)))
        return joined_packed(
            [self._run_constant(np.ascontiguousarray(sensed[:, a:b]), mode[0, a], memory, record=record) for a, b in pairs]
        )

    def _run_constant(self, sensed: Array, modes: NDArray[np.int16], memory: StrategyMemory, *, record: bool) -> PackedOutput:
        bound = self._bound(modes)
        shape = (sensed.shape[1], sensed.shape[2])
        width = shape[0] * shape[1]
        board = self.layout.empty(width)
        lost = self._take_in(bound, sensed, board, memory)
        now = BoardChunk(self.dt, board, self.layout, shape)
        for part, plug_in in bound.suppliers:
            self._advance(part, plug_in, now, bound, memory)
        for part, plug_in in bound.laws:
            self._advance(part, plug_in, now, bound, memory)
        asked, closed = np.empty((8, width)), np.empty((8, width))
        decided, raised_flags = np.empty((8, width), np.int16), np.empty((8, width), np.uint8)
        noted = np.full((3, len(self.plans) if record else 0, 8, width), np.nan)
        stack_kernel(
            self._records, board, bound.layers, memory.numbers("layers", self.cases, STATE * len(self.plans)), self._maps, self._places,
            bound.fallback, lost, self._needs, self._corner_of_rows, asked, closed, decided, raised_flags, *noted, *shape,
        )  # fmt: skip
        if not np.isfinite(asked).all():
            raise self._not_a_number(board, shape)
        before = asked.reshape(8, *shape)
        tree = memory.open("supervisor", bound.key)
        after, flags = bound.supervisor.run(before, self._warmth(board, shape), bound.modes, closed.reshape(8, *shape), tree)
        tree.end()
        flags |= raised_flags.reshape(8, *shape)
        published = board[self.layout.published, :width].reshape(-1, *shape)
        kept = None
        if record:
            wanted, share, then = (part.reshape(len(self.plans), 8, *shape) for part in noted)
            kept = Record(wanted, share, then, lost.reshape(-1, *shape))
        return PackedOutput(self.layout.output, published, before, after, decided.reshape(8, *shape), flags, kept)

    def _warmth(self, board: Array, shape: tuple[int, int]) -> Array:
        place = self.layout.rows.get(_WARMTH)
        if place is None:
            return np.full((4, *shape), AMBIENT)
        return board[place[0] : place[0] + 4, : shape[0] * shape[1]].reshape(4, *shape)

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
            bind(part.found.cls, [c.settings[f"{part.found.kind}s.{part.name}"] for c in each], *rows) for part in self._suppliers
        ]
        laws: list[Any] = []
        settings = []
        for index, plan in enumerate(self.plans):
            settings.append(bind(LayerSettings, [c.layers[index].settings for c in each], *rows).values(self.dt))
            laws += [self._bind_law(index, law, rows) for law in plan.laws]
        intake = bind(Intake, [c.settings["intake"] for c in each], *rows)
        supervisor = bind(Supervisor, [c.settings["supervisor"] for c in each], *rows)
        return _Bound(
            key, np.array(modes, float), intake, self._with_values(self._suppliers, suppliers), self._with_values(self._laws, laws),
            _values_of_layers(settings), _fallback_of(supervisor), supervisor,
        )  # fmt: skip

    def _bind_law(self, index: int, law: str, rows: tuple[Sequence[int], Sequence[int]]) -> Any:
        part = next(part for part in self._laws if part.name == f"layers.{self.plans[index].name}.{law}")
        return bind(part.found.cls, [c.layers[index].law_settings[law] for c in self.calibrations], *rows)

    def _with_values(self, parts: tuple[_Part, ...], bound: list[Any]) -> tuple[tuple[_Part, Any], ...]:
        """Each part with its packed values, or with itself where it is in array form."""
        return tuple(
            (part, plug_in if part.plan is None else part.plan.pack(plug_in, self.cases, self.dt))
            for part, plug_in in zip(parts, bound, strict=True)
        )

    def _take_in(self, bound: _Bound, sensed: Array, board: Array, memory: StrategyMemory) -> Array:
        """Put what the intake makes of the sensors on the board; returns which channels are lost, (row, tick x case)."""
        tree = memory.open("intake", bound.key)
        clean, kind, lost = bound.intake.run(sensed, tree)
        tree.end()
        rows = sensed.shape[0]
        width = sensed.shape[1] * sensed.shape[2]
        board[CLEAN, :width] = clean.reshape(rows, width)
        board[FAULT, :width] = kind.reshape(rows, width)
        np.equal(kind.reshape(rows, width), 0.0, out=board[VALID, :width])
        return lost.reshape(rows, width)

    def _advance(self, part: _Part, values: Any, now: BoardChunk, bound: _Bound, memory: StrategyMemory) -> None:
        """One plug-in over the chunk: it reads its rows of the board and fills those it gives."""
        board, shape = now.board, now.shape
        plan = part.plan
        if plan is not None:
            numbers = memory.numbers(part.name, shape[1], plan.states)
            plan.loop(board, part.read, values, numbers, part.write, *shape)
            return
        result = _called(part.found, values, now, memory.open(part.name, bound.key))
        if part.demand:
            self._put_demand(part, result, board, shape)
        else:
            self._put_given(part, result, board, shape)

    def _put_given(self, part: _Part, result: Any, board: Array, shape: tuple[int, int]) -> None:
        found = part.found
        if not isinstance(result, dict) or len(result) != len(found.gives):
            raise BadInput(_where(found), misfit(found.gives, result, *shape))
        for given in found.gives:
            value = result.get(given.name)
            if value is None or (given.is_state and not isinstance(value, State)):
                raise BadInput(_where(found), misfit(found.gives, result, *shape))
            if given.is_state:
                strength = value.active if value.strength is None else value.strength
                self._put(found, given.name, value.active, (given.corners,), board, shape)
                self._put(found, given.name + STRENGTH, strength, (given.corners,), board, shape)
            else:
                self._put(found, given.name, value, (given.corners,), board, shape)

    def _put_demand(self, part: _Part, demand: Any, board: Array, shape: tuple[int, int]) -> None:
        if not isinstance(demand, Duty | Force):
            raise BadInput(_where(part.found), f"run returned {type(demand).__name__}; a law returns Duty or Force")
        for side in SIDES:
            wanted = getattr(demand, side)
            if (wanted is not None) != (side in part.found.sides):
                said = "leaves out" if wanted is None else "asks for"
                raise BadInput(_where(part.found), f"{said} the {side} side here; at rest, it asked for {' and '.join(part.found.sides)}")
            if wanted is not None:
                self._put(part.found, part.demand + side, wanted, (1, 4), board, shape)

    def _put(self, found: Found, name: str, array: Any, corners: tuple[int, ...], board: Array, shape: tuple[int, int]) -> None:
        """An array of a plug-in, checked, onto its rows."""
        said = name.rsplit(".", 1)[-1].replace(STRENGTH, " strength")
        got: tuple[int, ...] = getattr(array, "shape", ())
        if not got or got[1:] != shape or got[0] not in corners or array.dtype != _FLOAT:
            raise BadInput(_where(found), wrong_shape(said, array, corners, *shape))
        row, count = self.layout.rows[name]
        board[row : row + count, : shape[0] * shape[1]] = full(array, (count, *shape)).reshape(count, -1)

    def _not_a_number(self, board: Array, shape: tuple[int, int]) -> BadInput:
        """Names the first plug-in, in running order, of which something is not a number."""
        for part in (*self._suppliers, *self._laws):
            names = [given.name for given in part.found.gives] or [part.demand + side for side in part.found.sides]
            for name in names:
                row, corners = self.layout.rows[name]
                values = board[row : row + corners, : shape[0] * shape[1]].reshape(corners, *shape)
                if not np.isfinite(values).all():
                    corner, tick, case = (int(index) for index in np.argwhere(~np.isfinite(values))[0])
                    said = name.rsplit(".", 1)[-1] + (f" {part.found.returns.lower()}" if part.demand else "")
                    return BadInput(_where(part.found), f"{said} is not a number (corner {corner}, tick {tick} of the chunk, case {case})")
        return BadInput("strategy", "the duty of the layers together is not a number")


def _layer_needs(plan: LayerPlan, laws: tuple[Found, ...], givers: dict[str, Found]) -> dict[str, int]:
    """Signals without which a layer closes: what its laws, its states and its roles are made of."""
    roles = [role.reads for role in map(role_of, plan.corners) if role.reads]
    needs = needs_of((*plan.when, *plan.unless, *roles), givers)
    for law in laws:
        if law.returns == "Force":
            needs = needs_of(_REFERENCES, givers, needs)
        needs = spared(law, needs_of(law.reads, givers), needs)
    return needs


def _values_of_layers(settings: list[Array]) -> Array:
    """Values of all layers, (1 or case, layer, field)."""
    cases = max(len(values) for values in settings)
    return np.ascontiguousarray(np.stack([np.broadcast_to(values, (cases, values.shape[1])) for values in settings], axis=1))


def _fallback_of(supervisor: Supervisor) -> Array:
    """Fallback duties as (8, 1 or case, 1)."""
    each = [np.asarray(value, float) for value in (supervisor.fallback_compression, supervisor.fallback_rebound)]
    shaped = [value.reshape(1, 1, 1) if value.ndim == 0 else value for value in each]
    cases = max(value.shape[2] for value in shaped)
    return np.ascontiguousarray(np.concatenate([np.broadcast_to(value, (4, 1, cases)) for value in shaped]).transpose(0, 2, 1))


def _where(found: Found) -> str:
    return f"{found.source}: {found.name}"


def _called(found: Found, plug_in: Any, now: BoardChunk, tree: Memory) -> Any:
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


def _cuts(mode: NDArray[np.int16], longest: int) -> list[int]:
    """Where to cut a chunk: at every change of a drive mode, and so that a piece fits the cache."""
    changes = np.flatnonzero((mode[0, 1:] != mode[0, :-1]).any(axis=1)) + 1
    return sorted({int(change) for change in changes} | {*range(0, mode.shape[1], longest), mode.shape[1]})

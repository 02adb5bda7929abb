"""Plug-ins in tick form: `tick(self, now, memory, out)` says what happens in one tick of one case, and is compiled.

The decorator reads the method's source once and puts array rows where it says `now.speed`, `self.gain`, `memory.last`
or `out.braking`; what a plug-in reads, and how much memory it needs, is found that way. The compiled loop works on a
*board*, all rows of a strategy over (tick, case), so that a plug-in costs one call per chunk, whatever it does.
`run(now, memory)` is made beside it: the same loop on the arrays of a `Chunk`, as the contract of array form has it.
"""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Callable
from functools import cached_property
from pathlib import Path
from typing import Any, Final, NamedTuple, TypeVar

import numpy as np
from numba import types
from numpy.typing import NDArray

from dualduty.cells import leak, share, ticks
from dualduty.compile_fault import compile_fault
from dualduty.contract import Chunk, Duty, Force, State, gives_of
from dualduty.kernel_cache import file_digest
from dualduty.kernels import IN2, OUT2, OUT3, inline, swept_kernel, tick_kernel
from dualduty.lookup import Curve, Surface, full, segment
from dualduty.memory import Memory
from dualduty.signals import SIDES
from dualduty.tick_source import CORNERS, WORDS, TickFormError, TickReader

__all__ = ["TickFormError", "TickPlan", "each_tick", "leak", "share", "ticks"]

Array = NDArray[np.float64]
T = TypeVar("T")

STRENGTH: Final = "_strength"
OF_SIGNALS: Final = {"_valid": 1.0, "_fault": 0.0}  # what the intake says of a signal, and what holds where it says nothing
ROWS_OF: Final = types.Array(types.int64, 1, "C", readonly=True)
SIGNATURE: Final = types.void(OUT2, ROWS_OF, IN2, OUT2, ROWS_OF, types.int64, types.int64)
SWEPT_SIGNATURE: Final = types.void(IN2, OUT3, ROWS_OF, ROWS_OF, IN2, OUT2, ROWS_OF, ROWS_OF)


class TickSource(NamedTuple):
    """Where a method `tick` stands, its lines, and the number of the first."""

    file: str
    lines: list[str]
    first: int


def _source_of(plug_in: type) -> TickSource:
    """What the file says as the class is made.

    Read later, a file edited meanwhile would give another text than the class in memory, and a kernel under the wrong digest.
    """
    function: Any = plug_in.tick  # type: ignore[attr-defined]
    file = inspect.getsourcefile(function) or ""
    file_digest(Path(file))  # remembered for the process, for all that this file imports
    return TickSource(file, *inspect.getsourcelines(function))


class TickPlan:
    """What the decorator found out about a plug-in, and its compiled loop.

    `reads` and `outs` name rows with the number of corners each is used with, in the order of the loop's rows.
    """

    def __init__(self, plug_in: type, source: TickSource) -> None:
        self.plug_in = plug_in
        function: Any = plug_in.tick  # type: ignore[attr-defined]
        self.file, lines, first = source
        tree = ast.parse(textwrap.dedent("".join(lines)))
        ast.increment_lineno(tree, first - 1)
        reader = TickReader(plug_in, function.__globals__, self.file)
        definition = tree.body[0]
        if not isinstance(definition, ast.FunctionDef) or [one.arg for one in definition.args.args] != list(WORDS):
            raise TickFormError("expected def tick(self, now, memory, out)", (self.file, first, 0, None))
        definition.body = [reader.visit(statement) for statement in definition.body if not _is_docstring(statement)]
        reader.own.place("dt", indexed=False, size=1)
        reader.fill_in()
        self._check(reader)
        self.reads = dict(reader.now.sizes)
        self.outs = dict(reader.out.sizes)
        self.states = reader.memory.total
        self._own = reader.own
        self._tree = ast.fix_missing_locations(_as_step(tree, definition))

    def _check(self, reader: TickReader) -> None:
        """Outputs are what the plug-in gives; a parameter that differs by corner is read by corner."""
        given = {entry.name: entry for entry in gives_of(self.plug_in)}
        for name, size in reader.out.sizes.items():
            base = name.removesuffix(STRENGTH) if name not in given else name
            corners = given[base].corners if base in given else CORNERS if not given and name in SIDES else 0
            if corners != size:
                said = f"{corners} corners" if corners else "nothing that it gives"
                raise TickFormError(f"out.{name} is written with {size}, declared with {said}", (self.file, 0, 0, None))
        missing = [name for name in given if name not in reader.out.sizes]
        if missing:
            raise TickFormError(f"{self.plug_in.__name__}.tick never writes out.{missing[0]}", (self.file, 0, 0, None))
        for name, declaration in reader.declared.items():
            if declaration.by_corner and not declaration.axes and reader.own.indexed.get(name) is False:
                raise TickFormError(f"self.{name} may differ by corner: self.{name}[corner]", (self.file, 0, 0, None))

    @cached_property
    def loop(self) -> Callable[..., None]:
        """The compiled loop `(board, in_rows, p, s, out_rows, ticks, cases)`."""
        return self._compiled(tick_kernel, SIGNATURE)

    @cached_property
    def swept_loop(self) -> Callable[..., None]:
        """The compiled loop `(packed, board, own_at, own_rows, p, s, kept_at, kept_rows)`, for cases that read the same signals."""
        return self._compiled(swept_kernel, SWEPT_SIGNATURE)

    def _compiled(self, kernel: Callable[..., Callable[..., None]], signature: Any) -> Callable[..., None]:
        names = {**self.plug_in.tick.__globals__, "_curve_at": curve_at, "_surface_at": surface_at}  # type: ignore[attr-defined]
        exec(compile(self._tree, self.file, "exec"), names)  # noqa: S102 - the plug-in's own source, rewritten
        step = names["tick"]
        step.__qualname__ = f"{self.plug_in.__name__}.tick"
        step.__module__ = self.plug_in.__module__
        try:
            return kernel(step, signature, sum(self.reads.values()), sum(self.outs.values()))
        except Exception as error:  # a compiler has many kinds of them
            raise compile_fault(error, self.file, self.plug_in.__name__) from error

    def pack(self, bound: Any, cases: int, dt: float) -> Array:
        """Parameter values of a bound plug-in as rows by case, (1 or case, n): one row where all cases agree."""
        prepared: dict[str, Any] = bound.prepared(dt) if hasattr(bound, "prepared") else {}
        columns: list[Array] = []
        tables: list[Array] = []  # of curves and surfaces; they stand behind all else, each at the row that its name holds
        for name, size in self._own.sizes.items():
            if name.startswith("("):
                columns.append(np.full((1, 1), float(self._own.total + sum(map(len, tables)))))
                tables += _curve_columns(getattr(bound, name[1:-1]))
                continue
            value = dt if name == "dt" else prepared[name] if name in prepared else getattr(bound, name)
            columns.append(_column(value, size, f"{self.plug_in.__name__}.{name}"))
        columns += tables
        wide = max(column.shape[1] for column in columns)
        packed = np.concatenate([np.broadcast_to(column, (len(column), wide)) for column in columns])
        assert wide in (1, cases)  # noqa: S101 - values come bound for these cases
        return np.ascontiguousarray(packed.T)


def _column(value: Any, size: int, name: str) -> Array:
    """A value as (size, 1 or case)."""
    array = np.asarray(value, float)
    flat = array.reshape(1, 1) if array.ndim == 0 else array[:, 0, :]
    if flat.shape[0] not in (1, size):
        raise ValueError(f"{name} differs by corner and is read without one")
    return np.broadcast_to(flat, (size, flat.shape[1]))


def _curve_columns(table: Curve | Surface) -> list[Array]:
    """A curve or surface as rows: counts of points, points, values by corner."""
    axes = [table.points] if isinstance(table, Curve) else [table.x_points, table.y_points]
    points = [axis.reshape(len(axis), -1) for axis in axes]
    shape = tuple(len(axis) for axis in axes)
    values = table.values.reshape(*shape, 1, 1) if table.values.ndim == len(axes) else table.values
    by_corner = np.broadcast_to(values, (*shape, CORNERS, values.shape[-1]))
    flat = np.moveaxis(by_corner, -2, 0).reshape(-1, values.shape[-1])
    return [*(np.full((1, 1), float(count)) for count in shape), *points, flat]


def _as_step(tree: ast.Module, definition: ast.FunctionDef) -> ast.Module:
    definition.args.args = [ast.arg(name) for name in ("_x", "_p", "_s", "_out")]
    definition.returns = None
    definition.decorator_list = []
    return tree


def _is_docstring(statement: ast.stmt) -> bool:
    return isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant)


def each_tick(plug_in: type[T]) -> type[T]:
    """Make a plug-in of a frozen dataclass with a method `tick(self, now, memory, out)`."""
    plan = _LazyPlan(plug_in)

    def run(self: Any, now: Chunk, memory: Memory) -> Any:
        """Map a chunk of inputs to a chunk of outputs, advancing `memory`."""
        return run_over(self, now, memory)

    plug_in.plan = plan  # type: ignore[attr-defined]
    plug_in.run = run  # type: ignore[attr-defined]
    return plug_in


class _LazyPlan:
    """The plan of a class, made when first asked for: helpers may stand below the class in its file."""

    def __init__(self, plug_in: type) -> None:
        self._plug_in = plug_in
        self._source = _source_of(plug_in)
        self._made: TickPlan | None = None

    def __get__(self, instance: Any, owner: type) -> TickPlan:
        if self._made is None:
            self._made = TickPlan(self._plug_in, self._source)
        return self._made


def plan_of(plug_in: type) -> TickPlan | None:
    """The plan of a plug-in in tick form; None for one in array form."""
    return getattr(plug_in, "plan", None)


def base_name(name: str) -> str:
    """What `airborne_strength`, `roll_rate_valid` or `roll_rate_fault` are said of; any other name itself."""
    for ending in (STRENGTH, *OF_SIGNALS):
        if name.endswith(ending):
            return name.removesuffix(ending)
    return name


def run_over(plug_in: Any, now: Chunk, memory: Memory) -> Any:
    """One call of a plug-in in tick form on the arrays of a chunk."""
    plan: TickPlan = plug_in.plan
    node = memory("tick")
    inputs = [_read(now, name) for name in plan.reads]
    shape = inputs[0].shape[1:] if inputs else now.specific_force_z.shape[1:]
    packed = node.derived(lambda: plan.pack(plug_in, shape[1], memory.dt))
    cases = max(shape[1], len(packed))
    board = np.zeros((sum(plan.reads.values()) + sum(plan.outs.values()), shape[0] * cases))
    row = 0
    for array, corners in zip(inputs, plan.reads.values(), strict=True):
        board[row : row + corners] = full(array, (corners, shape[0], cases)).reshape(corners, -1)
        row += corners
    state = np.zeros((cases, plan.states)) if node.state is None else node.state.copy()
    places = np.arange(len(board))
    plan.loop(board, places[:row], packed, state, places[row:], shape[0], cases)
    node.state = state
    return _results(plug_in, plan, board[row:].reshape(-1, shape[0], cases))


def _read(now: Chunk, name: str) -> Array:
    """One input as an array: a signal, quantity or state, the strength of a state, or what the intake says of a signal."""
    known = vars(now)
    if name not in known:
        if name.endswith(STRENGTH) and isinstance(known.get(name.removesuffix(STRENGTH)), State):
            state = known[name.removesuffix(STRENGTH)]
            return state.active if state.strength is None else state.strength  # type: ignore[no-any-return]
        for ending, value in OF_SIGNALS.items():
            if name.endswith(ending) and name.removesuffix(ending) in known:
                return np.full_like(known[name.removesuffix(ending)], value)
    found = getattr(now, name)
    return found.active if isinstance(found, State) else found


def _results(plug_in: Any, plan: TickPlan, rows: Array) -> Any:
    """Output rows as the contract has them."""
    arrays: dict[str, Array] = {}
    row = 0
    for name, corners in plan.outs.items():
        arrays[name] = np.ascontiguousarray(rows[row : row + corners])
        row += corners
    given = gives_of(type(plug_in))
    if not given:
        made = Force if getattr(plug_in, "returns", "Duty") == "Force" else Duty
        return made(**arrays)
    return {e.name: State(arrays[e.name], arrays.get(e.name + STRENGTH)) if e.is_state else arrays[e.name] for e in given}


@inline
def curve_at(p: Array, start: float, corner: int, x: float) -> float:
    """Value of a packed curve: count, points, values by corner; held at its ends."""
    begin = int(start)
    count = int(p[begin])
    points = p[begin + 1 : begin + 1 + count]
    at, along = segment(points, x)
    row = begin + 1 + count + corner * count
    low = p[row + at]
    return float(low + along * (p[row + min(at + 1, count - 1)] - low))


@inline
def surface_at(p: Array, start: float, corner: int, x: float, y: float) -> float:
    """Value of a packed surface: two counts, both points, values by corner; bilinear, held at its edges."""
    begin = int(start)
    rows, columns = int(p[begin]), int(p[begin + 1])
    i, along_x = segment(p[begin + 2 : begin + 2 + rows], x)
    j, along_y = segment(p[begin + 2 + rows : begin + 2 + rows + columns], y)
    base = begin + 2 + rows + columns + corner * rows * columns
    i_next, j_next = min(i + 1, rows - 1), min(j + 1, columns - 1)
    low = p[base + i * columns + j] + along_y * (p[base + i * columns + j_next] - p[base + i * columns + j])
    high = p[base + i_next * columns + j] + along_y * (p[base + i_next * columns + j_next] - p[base + i_next * columns + j])
    return float(low + along_x * (high - low))

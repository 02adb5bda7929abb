"""Read the source of a method `tick`: what it uses by name, and the same statements with array rows in place of names."""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Final

from dualduty.cells import ROWS
from dualduty.parameters import declarations

CORNERS: Final = 4
WORDS: Final = ("self", "now", "memory", "out")
_NOT_OF_THE_FORM: Final = (
    ast.Raise, ast.Assert, ast.Try, ast.With, ast.Global, ast.Nonlocal, ast.Delete, ast.Import, ast.ImportFrom,
    ast.FunctionDef, ast.Lambda, ast.ClassDef, ast.Yield, ast.YieldFrom, ast.JoinedStr,
)  # fmt: skip


class TickFormError(SyntaxError):
    """A method `tick` says something that the form doesn't have; carries file and line."""


@dataclass
class Rows:
    """Names with the first row and the number of rows of each, in the order in which they turn up."""

    sizes: dict[str, int] = field(default_factory=dict)
    indexed: dict[str, bool] = field(default_factory=dict)

    def place(self, name: str, *, indexed: bool, size: int) -> str:
        """Note a use; the answer says what is wrong with it, empty when nothing is."""
        if self.indexed.setdefault(name, indexed) != indexed:
            return f"{name} is used both with a corner and without"
        known = self.sizes.setdefault(name, size)
        return "" if known == size else f"{name} is used as {known} rows and as {size}"

    def start(self, name: str) -> int:
        """First row of a name."""
        total = 0
        for other, size in self.sizes.items():
            if other == name:
                return total
            total += size
        raise KeyError(name)

    @property
    def total(self) -> int:
        """Rows of all names."""
        return sum(self.sizes.values())


class TickReader(ast.NodeTransformer):
    """Notes what a `tick` uses, and puts array rows in its place; rows are filled in at the end, when all are known."""

    def __init__(self, plug_in: type, names: dict[str, Any], file: str) -> None:
        self.now, self.own, self.memory, self.out = Rows(), Rows(), Rows(), Rows()
        self.names = names
        self.file = file
        self.declared = declarations(plug_in)
        self.buffers: dict[str, int] = dict(getattr(plug_in, "sizes", {}))
        self.later: list[tuple[Callable[[ast.expr], None], Rows, str, int, ast.expr | None]] = []

    def wrong(self, node: ast.AST, problem: str) -> TickFormError:
        """A mistake at the line of `node`."""
        line = getattr(node, "lineno", 0)
        return TickFormError(problem, (self.file, line, 0, None))

    def visit(self, node: ast.AST) -> Any:
        """Any part of a tick; what the form doesn't have is refused where it stands."""
        if isinstance(node, _NOT_OF_THE_FORM):
            raise self.wrong(node, f"a tick has no {type(node).__name__.lower()}; numbers, if, for and while, math and cells")
        return super().visit(node)

    def visit_Name(self, node: ast.Name) -> ast.AST:
        """One of the four words that stands alone means nothing once compiled."""
        if node.id in WORDS:
            raise self.wrong(node, f"{node.id} stands alone; expected {node.id}.some_name")
        return node

    def visit_Call(self, node: ast.Call) -> ast.AST:
        """A cell, a curve, or a plain call."""
        curve = _owner(node.func)
        if curve is not None and curve[0] == "self":
            return self._looked_up(node, curve[1], curve[2])
        if isinstance(node.func, ast.Name) and (found := self.names.get(node.func.id)) is not None and _is_cell(found):
            return self._cell(node, ROWS[found])
        if node.keywords:
            raise self.wrong(node, "calls in a tick have no keywords")
        return self.generic_visit(node)

    def _looked_up(self, node: ast.Call, name: str, index: ast.expr | None) -> ast.AST:
        declaration = self.declared.get(name)
        if declaration is None or len(declaration.axes) != len(node.args):
            raise self.wrong(node, f"self.{name} is no curve of {len(node.args)} axis; a curve takes one value, a surface two")
        place = ast.Subscript(ast.Name("_p", ast.Load()), ast.Constant(0), ast.Load())
        self.later.append((partial(setattr, place, "slice"), self.own, f"({name})", 1, None))
        self.own.place(f"({name})", indexed=False, size=1)
        corner: ast.expr = ast.Constant(0) if index is None else self.visit(index)
        looker = "_curve_at" if len(declaration.axes) == 1 else "_surface_at"
        arguments = [ast.Name("_p", ast.Load()), place, corner, *(self.visit(argument) for argument in node.args)]
        return ast.copy_location(ast.Call(ast.Name(looker, ast.Load()), arguments, []), node)

    def _cell(self, node: ast.Call, rows: int) -> ast.AST:
        owner = _owner(node.args[0]) if node.args else None
        if owner is None or owner[0] != "memory" or node.keywords:
            called = ast.unparse(node.func)
            raise self.wrong(node, f"{called} takes a name of the memory first: memory.some_name or memory.some_name[corner]")
        _, name, index = owner
        size = rows if index is None else rows * CORNERS
        if name in self.memory.sizes:
            raise self.wrong(node, f"memory.{name} is used twice; give each filter its own name")
        self.memory.place(name, indexed=index is not None, size=size)
        arguments = [ast.Name("_s", ast.Load()), ast.Constant(0), *(self.visit(argument) for argument in node.args[1:])]
        self.later.append((partial(arguments.__setitem__, 1), self.memory, name, rows, None if index is None else self.visit(index)))
        return ast.copy_location(ast.Call(node.func, arguments, []), node)

    def visit_Attribute(self, node: ast.Attribute) -> ast.AST:
        """`word.name`."""
        owner = _owner(node)
        return self.generic_visit(node) if owner is None else self._row(node, owner[0], owner[1], None)

    def visit_Subscript(self, node: ast.Subscript) -> ast.AST:
        """`word.name[index]`."""
        owner = _owner(node)
        return self.generic_visit(node) if owner is None else self._row(node, owner[0], owner[1], owner[2])

    def _row(self, node: ast.Attribute | ast.Subscript, word: str, name: str, index: ast.expr | None) -> ast.AST:
        if not isinstance(node.ctx, ast.Load) and word in ("self", "now"):
            raise self.wrong(node, f"{word}.{name} can't be assigned; results go to out, what is kept to memory")
        rows, array = {"self": (self.own, "_p"), "now": (self.now, "_x"), "memory": (self.memory, "_s"), "out": (self.out, "_out")}[word]
        if word == "now" and name == "dt":
            rows, array = self.own, "_p"
        size = 1 if index is None else self.buffers.get(name, CORNERS) if word == "memory" else CORNERS
        if isinstance(index, ast.Constant | ast.UnaryOp) and ast.unparse(index) not in map(str, range(size)):
            raise self.wrong(node, f"{word}.{name} has {size} places, 0 to {size - 1}, came [{ast.unparse(index)}]")
        problem = rows.place(name, indexed=index is not None, size=size)
        if problem:
            raise self.wrong(node, f"{word}.{problem}")
        place = ast.Subscript(ast.Name(array, ast.Load()), ast.Constant(0), node.ctx)
        self.later.append((partial(setattr, place, "slice"), rows, name, 1, None if index is None else self.visit(index)))
        return ast.copy_location(place, node)

    def fill_in(self) -> None:
        """Put the row numbers where they belong."""
        for put, rows, name, width, index in self.later:
            start: ast.expr = ast.Constant(rows.start(name))
            if index is not None:
                step = index if width == 1 else ast.BinOp(ast.Constant(width), ast.Mult(), index)
                start = ast.BinOp(start, ast.Add(), step)
            put(start)


def _owner(node: ast.AST) -> tuple[str, str, ast.expr | None] | None:
    """(word, name, index) of `word.name` or `word.name[index]`; None for anything else."""
    inner, index = (node.value, node.slice) if isinstance(node, ast.Subscript) else (node, None)
    if isinstance(inner, ast.Attribute) and isinstance(inner.value, ast.Name) and inner.value.id in WORDS:
        return inner.value.id, inner.attr, index
    return None


def _is_cell(found: Any) -> bool:
    try:
        return found in ROWS
    except TypeError:
        return False

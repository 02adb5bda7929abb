"""Find plug-ins: every class with a `run` method in the strategy folders, in `--plugin` files and in entry points.

Importing, then a dry run of two ticks, which records what a plug-in reads. Nothing is registered by hand: adding a law
is adding a file.
"""

from __future__ import annotations

import dataclasses
import difflib
import importlib
import importlib.metadata
import importlib.util
import inspect
import pkgutil
import sys
import traceback
import zlib
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any, Final

import numpy as np

from dualduty.contract import Chunk, Given, State, gives_of, kind_of, misfit
from dualduty.each_tick import TickFormError, TickPlan, base_name, plan_of
from dualduty.errors import BadInput
from dualduty.memory import Memory
from dualduty.parameters import Declaration, declarations
from dualduty.signals import SIDES, SIGNALS

FOLDERS: Final = ("strategies.estimators", "strategies.detectors", "strategies.laws")
FIXTURES: Final = {
    "intake": "strategies.intake:Intake",
    "supervisor": "strategies.supervisor:Supervisor",
    "layer": "strategies.layer:LayerSettings",
}
ENTRY_POINTS: Final = "dualduty.plugins"
_DRY_DT: Final = 0.002


@dataclass(frozen=True)
class Found:
    """A plug-in class with what the dry run learned about it."""

    cls: type
    kind: str
    source: Path
    gives: tuple[Given, ...]
    parameters: dict[str, Declaration]
    reads: tuple[str, ...] = ()
    returns: str = ""
    sides: tuple[str, ...] = ()  # of which a law says something

    @property
    def name(self) -> str:
        """Class name: how files and the command line call it."""
        return self.cls.__name__

    @property
    def summary(self) -> str:
        """First sentence of its docstring."""
        return (inspect.getdoc(self.cls) or "").split("\n", 1)[0]


@dataclass(frozen=True)
class PlugIns:
    """Everything found, by class name; and what each published name means."""

    by_name: dict[str, Found]
    given: dict[str, Given]
    fixtures: dict[str, type]

    def get(self, name: str, where: str, kinds: tuple[str, ...]) -> Found:
        """The plug-in `name` of one of `kinds`; BadInput with near names otherwise."""
        found = self.by_name.get(name)
        if found is not None and found.kind in kinds:
            return found
        known = [entry.name for entry in self.by_name.values() if entry.kind in kinds]
        near = difflib.get_close_matches(name, known, n=1)
        hint = f"; did you mean {near[0]!r}?" if near else f"; known: {', '.join(sorted(known))}"
        raise BadInput(where, f"expected {'an' if kinds[0].startswith('e') else 'a'} {' or '.join(kinds)}, got {name!r}{hint}")

    def suppliers(self, name: str) -> list[Found]:
        """Plug-ins that give `name`."""
        return [entry for entry in self.by_name.values() if any(given.name == name for given in entry.gives)]


class _Recorder(Chunk):
    """A chunk at rest that remembers what was read from it."""

    def __init__(self, given: dict[str, Given], cases: int) -> None:
        super().__init__(_DRY_DT, {})
        self.__dict__["_given"] = given
        self.__dict__["_cases"] = cases
        self.__dict__["_reads"] = {}

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):
            raise AttributeError(name)
        self._reads[name] = None
        signal = SIGNALS.get(name)
        if signal is not None:
            return np.full((signal.corners, 1, self._cases), signal.rest)
        given = self._given.get(name)
        if given is None:
            near = difflib.get_close_matches(name, [*SIGNALS, *self._given], n=1)
            raise AttributeError(f"reads {name!r}, which no signal or plug-in gives" + (f"; did you mean {near[0]!r}?" if near else ""))
        rest = np.zeros((given.corners, 1, self._cases))
        return State(rest, rest) if given.is_state else rest


def discover(plugin_files: tuple[Path, ...] = ()) -> PlugIns:
    """Import every plug-in and dry-run it; BadInput names the file of the first that can't be used."""
    modules = [module for folder in FOLDERS for module in _folder_modules(folder)]
    modules += [_file_module(path) for path in plugin_files]
    modules += [_entry_module(point) for point in importlib.metadata.entry_points(group=ENTRY_POINTS)]
    classes: dict[str, type] = {}
    for module in modules:
        for cls in _plug_in_classes(module):
            _refuse_twice(classes.get(cls.__name__), cls)
            classes[cls.__name__] = cls
    return examine(list(classes.values()))


def examine(classes: list[type]) -> PlugIns:
    """Look at plug-in classes and dry-run each."""
    given: dict[str, Given] = {}
    for cls in classes:
        for entry in gives_of(cls):
            before = given.setdefault(entry.name, entry)
            if dataclasses.replace(before, meaning="") != dataclasses.replace(entry, meaning=""):
                raise BadInput(_source(cls), f"{cls.__name__} gives {entry.name!r} as {entry}; another plug-in gives it as {before}")
            if entry.name in SIGNALS:
                raise BadInput(_source(cls), f"{cls.__name__} gives {entry.name!r}, which is a signal's name")
    found = {}
    for cls in classes:
        made = Found(cls, kind_of(cls), _source(cls), gives_of(cls), declarations(cls))
        found[cls.__name__] = dry_run(made, given)
    return PlugIns(found, given, fixtures())


def fixtures() -> dict[str, type]:
    """The parts of every strategy that are not chosen but can be calibrated."""
    found = {}
    for name, place in FIXTURES.items():
        module, _, attribute = place.partition(":")
        found[name] = getattr(importlib.import_module(module), attribute)
    return found


def dry_run(found: Found, given: dict[str, Given]) -> Found:
    """Two ticks at rest: record what is read and returned, and refuse what the controller can't see."""
    where = f"{found.source}: {found.name}"
    plan = _plan(found.cls, where)
    if plan is not None:
        reads = tuple(dict.fromkeys(base_name(name) for name in plan.reads))
        _check_reads(plan, given, where)
        _refuse_hidden(reads, where)
        try:
            plan.pack(found.cls(), 1, _DRY_DT)
        except Exception as error:
            raise BadInput(where, raised(error, found.source, "")) from error
        returns = "dict" if found.gives else getattr(found.cls, "returns", "Duty")
        sides = tuple(side for side in SIDES if not found.gives and side in plan.outs)
        return dataclasses.replace(found, reads=reads, returns=returns, sides=sides)
    now = _Recorder(given, 1)
    memory = Memory(_DRY_DT)
    result: Any = None
    try:
        for _ in range(2):
            memory.begin()
            result = found.cls().run(now, memory)
            memory.end()
    except Exception as error:
        raise BadInput(where, raised(error, found.source)) from error
    reads = tuple(now._reads)  # noqa: SLF001 - the recorder is ours
    _refuse_hidden(reads, where)
    returns = _returned(found, result, where)
    sides = tuple(side for side in SIDES if not found.gives and getattr(result, side) is not None)
    return dataclasses.replace(found, reads=reads, returns=returns, sides=sides)


def _plan(cls: type, where: str) -> TickPlan | None:
    """The plan of a plug-in in tick form, once made; its mistakes as one line."""
    try:
        return plan_of(cls)
    except TickFormError as error:
        line = f"line {error.lineno}: " if error.lineno else ""
        raise BadInput(where, f"{line}{error.msg}") from error


def _refuse_hidden(reads: tuple[str, ...], where: str) -> None:
    hidden = [name for name in reads if name in SIGNALS and not SIGNALS[name].seen]
    if hidden:
        raise BadInput(where, f"reads {hidden[0]!r}, which is instrumentation only; the vehicle's controller can't see it")


def _check_reads(plan: TickPlan, given: dict[str, Given], where: str) -> None:
    """Every name that a tick reads is known, and is read by corner exactly where it has corners."""
    for name, corners in plan.reads.items():
        entry = SIGNALS.get(base_name(name)) or given.get(base_name(name))
        if entry is None:
            near = difflib.get_close_matches(name, [*SIGNALS, *given], n=1)
            hint = f"; did you mean {near[0]!r}?" if near else ""
            raise BadInput(where, f"reads {name!r}, which no signal or plug-in gives{hint}")
        if entry.corners != corners:
            wanted = f"now.{name}[corner]" if entry.corners > 1 else f"now.{name}, one value of the whole vehicle"
            raise BadInput(where, f"reads {name!r} {'by' if corners > 1 else 'without a'} corner; expected {wanted}")


def _returned(found: Found, result: Any, where: str) -> str:
    problem = misfit(found.gives, result, 1, 1)
    if problem:
        raise BadInput(where, problem)
    return type(result).__name__


def raised(error: BaseException, source: Path, word: str = "run raised ") -> str:
    """One line for an exception of a plug-in: what, and the line of its own file."""
    frames = [frame for frame in traceback.extract_tb(error.__traceback__) if Path(frame.filename).resolve() == source.resolve()]
    place = f" at line {frames[-1].lineno}" if frames else ""
    return f"{word}{type(error).__name__}{place}: {' '.join(str(error).split())}"


def _folder_modules(folder: str) -> list[ModuleType]:
    package = importlib.import_module(folder)
    names = sorted(entry.name for entry in pkgutil.iter_modules(package.__path__))
    return [_imported(f"{folder}.{name}") for name in names]


def _imported(name: str) -> ModuleType:
    try:
        return importlib.import_module(name)
    except Exception as error:
        spec = importlib.util.find_spec(name)
        raise BadInput(spec.origin if spec and spec.origin else name, f"can't be imported: {type(error).__name__}: {error}") from error


def _file_module(path: Path) -> ModuleType:
    if not path.is_file():
        raise BadInput(path, "expected a Python file with a plug-in, found no file")
    name = f"dualduty_plugin_{path.stem}_{zlib.crc32(str(path.resolve()).encode()):08x}"  # two files may have one name
    spec = importlib.util.spec_from_file_location(name, path)
    if spec is None or spec.loader is None:
        raise BadInput(path, "expected a Python file (.py)")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    try:
        spec.loader.exec_module(module)
    except (Exception, SystemExit) as error:
        said = f"it ends the program, sys.exit({error.code!r})" if isinstance(error, SystemExit) else raised(error, path, "")
        raise BadInput(path, f"can't be imported: {said}") from error
    if not _plug_in_classes(module):
        raise BadInput(
            path,
            "holds no plug-in: expected a frozen dataclass with @each_tick and tick(self, now, memory, out), or run(self, now, memory)",
        )
    return module


def _entry_module(point: importlib.metadata.EntryPoint) -> ModuleType:
    loaded = point.load()
    if not isinstance(loaded, ModuleType):
        raise BadInput(f"entry point {point.name}", f"expected a module, got {type(loaded).__name__}")
    return loaded


def _plug_in_classes(module: ModuleType) -> list[type]:
    classes = [entry for entry in vars(module).values() if isinstance(entry, type) and entry.__module__ == module.__name__]
    plug_ins = [cls for cls in classes if callable(getattr(cls, "run", None))]
    for cls in plug_ins:
        gives = getattr(cls, "gives", ())
        if not isinstance(gives, tuple) or not all(isinstance(entry, Given) for entry in gives):
            raise BadInput(_source(cls), f"{cls.__name__}.gives: expected quantities and states in brackets, as (state(...),)")
        if not dataclasses.is_dataclass(cls) or not cls.__dataclass_params__.frozen:  # type: ignore[attr-defined]
            raise BadInput(_source(cls), f"{cls.__name__} has run() but is not a frozen dataclass")
        undeclared = [entry.name for entry in dataclasses.fields(cls) if entry.name not in declarations(cls)]
        if undeclared:
            raise BadInput(_source(cls), f"{cls.__name__}.{undeclared[0]} is not declared with param, curve or surface")
    return plug_ins


def _refuse_twice(before: type | None, cls: type) -> None:
    if before is not None and before is not cls:
        raise BadInput(_source(cls), f"{cls.__name__} is also defined in {_source(before)}; class names are unique")


def _source(cls: type) -> Path:
    return Path(inspect.getsourcefile(cls) or cls.__module__)

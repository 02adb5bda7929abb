"""What a measure is: a named figure of a run with its unit, its source, and the change in it that matters."""

from __future__ import annotations

import importlib
import pkgutil
import re
from dataclasses import dataclass, is_dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal, Protocol, cast

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.units import unit

if TYPE_CHECKING:
    from types import ModuleType

    from dualduty.car import Car
    from dualduty.trace import Header, TraceChunk

Array = NDArray[np.float64]
Direction = Literal["lower", "higher", "none"]
Needs = Literal["truth", "sensed", "either"]

FOLDER: Final = "dualduty.scoring.measures"
_TEXTS: Final = ("name", "label", "unit", "said", "source")
_CHOICES: Final = {"direction": ("lower", "higher", "none"), "needs": ("truth", "sensed", "either")}


@dataclass(frozen=True)
class Matters:
    """The smallest change worth a word: the larger of an absolute one [SI] and a share of the baseline; and why."""

    absolute: float
    relative: float
    reason: str

    def band(self, baseline: float) -> float:
        """Half-width of the band round `baseline` within which nothing has changed. [SI]"""
        return max(self.absolute, self.relative * abs(baseline))


class Fold(Protocol):
    """A measure on its way through a run: takes chunks in order, keeps a few numbers per case."""

    def fold(self, chunk: TraceChunk) -> None:
        """Take in the next chunk."""

    def finish(self) -> Array:
        """Value per case, `(case,)`; NaN where there is none. [SI]"""

    def reasons(self) -> tuple[str, ...]:
        """Why there is no value, per case; "" where there is one. After `finish`."""

    def note(self) -> str:
        """How the value was come by when not in the plain way, else "". After `finish`."""

    def corners(self) -> Array | None:
        """Values `(4, case)` that `finish` took the worst of; None for a vehicle quantity. After `finish`."""


class Measure(Protocol):
    """A frozen dataclass in a file of its own; the fields of the dataclass, if any, all have defaults.

    `unit` is the SI unit of the value, `said` the unit shown to people. `direction` says which way is better.
    `needs` is "truth" where only a simulation can give it, "sensed" where it is read from the vehicle's own channels
    in both worlds, "either" where truth is taken when there is some. `moves_in_open_loop` is True where the value
    follows a candidate replayed over a log; everything else of a log belongs to the calibration that drove it.
    A class that stands for several measures gives them all with a class method `variants`.
    """

    @property
    def name(self) -> str:
        """Name in files and columns."""

    @property
    def label(self) -> str:
        """Name shown to people."""

    @property
    def unit(self) -> str:
        """SI unit of the value."""

    @property
    def said(self) -> str:
        """Unit shown to people."""

    @property
    def direction(self) -> Direction:
        """Which way is better."""

    @property
    def source(self) -> str:
        """Standard, paper, or common practice."""

    @property
    def needs(self) -> Needs:
        """Where the numbers come from."""

    @property
    def matters(self) -> Matters:
        """The change that matters."""

    @property
    def moves_in_open_loop(self) -> bool:
        """Whether it follows a candidate replayed over a log."""

    def start(self, header: Header, car: Car) -> Fold:
        """A fresh fold for a run of this header and a vehicle of these nominal numbers."""


def discover_measures() -> dict[str, Measure]:
    """All measures of the folder, by name, in the order of their files."""
    package = importlib.import_module(FOLDER)
    found: dict[str, Measure] = {}
    for entry in sorted(info.name for info in pkgutil.iter_modules(package.__path__)):
        for measure in measures_of(importlib.import_module(f"{FOLDER}.{entry}")):
            if measure.name in found:
                raise BadInput(f"{FOLDER}.{entry}", f"measure name {measure.name!r} is taken by {type(found[measure.name]).__name__}")
            found[measure.name] = measure
    return found


def measures_of(module: ModuleType) -> tuple[Measure, ...]:
    """The measures a module defines; BadInput when its class isn't named as its file, or isn't a measure."""
    where = Path(str(module.__file__)).name
    wanted = "".join(part.capitalize() for part in where.removesuffix(".py").split("_"))
    cls = vars(module).get(wanted)
    if not isinstance(cls, type) or not is_dataclass(cls) or not cls.__dataclass_params__.frozen:  # type: ignore[attr-defined]
        raise BadInput(where, f"expected a frozen dataclass {wanted}, named as its file")
    variants = getattr(cls, "variants", None)
    found: tuple[Measure, ...] = tuple(variants() if variants else [cast("Measure", cls())])
    for measure in found:
        check_measure(measure, where)
    return found


def check_measure(measure: Measure, where: str) -> None:
    """Refuse a measure whose description is incomplete or contradicts itself."""
    for name in _TEXTS:
        if not isinstance(getattr(measure, name, None), str) or not getattr(measure, name):
            raise BadInput(where, f"{type(measure).__name__}.{name} is {getattr(measure, name, None)!r}; expected a text")
    for name, allowed in _CHOICES.items():
        value = getattr(measure, name, None)
        if value not in allowed:
            raise BadInput(where, f"{type(measure).__name__}.{name} is {value!r}; expected one of {', '.join(allowed)}")
    if not re.fullmatch(r"[a-z][a-z0-9_]*", measure.name):
        raise BadInput(where, f"measure name {measure.name!r}: expected lower-case words joined by _")
    _check_units(measure, where)
    if not isinstance(getattr(measure, "matters", None), Matters) or not measure.matters.reason:
        raise BadInput(where, f"{measure.name} doesn't say which change matters, and why")


def _check_units(measure: Measure, where: str) -> None:
    try:
        inside, said = unit(measure.unit), unit(measure.said)
    except ValueError as error:
        raise BadInput(where, f"{measure.name}: {error}") from error
    if inside.dimension != said.dimension:
        raise BadInput(where, f"{measure.name} is kept in {inside.label} but said in {said.label}, a unit of {said.dimension}")
    if inside.factor != 1.0:
        raise BadInput(where, f"{measure.name} is kept in {inside.label}; expected an SI unit")

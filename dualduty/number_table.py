"""A table of a vehicle file onto declared numbers: the key names the unit, the value may differ by corner or axle."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.parameters import Declaration, declarations
from dualduty.signals import ROLES
from dualduty.units import UNITS, split_key, token_of, tokens_like

Array = NDArray[np.float64]

_NARROWING: Final = ("front", "rear", "left", "right", "front_left", "front_right", "rear_left", "rear_right")


def key_of(declaration: Declaration) -> str:
    """The key as one would write it: `stroke_mm`, or a bare name where there is no unit."""
    token = token_of(declaration.said)
    return declaration.name if token == "1" else f"{declaration.name}_{token}"


def read_numbers(kind: type, table: Mapping[str, Any], place: str, problems: list[BadInput]) -> dict[str, float | Array]:
    """Values in SI by field name: a float, or a (4,) array where a field is declared by corner.

    Fields without a key take their default, unless `kind.required` lists them. Every problem is added to `problems`.
    """
    declared = declarations(kind)
    given = given_numbers(declared, table, place, problems)
    for name in getattr(kind, "required", ()):
        if name in given or any(split_key(key, name) is not None for key in table):
            continue  # there, or its bad value was told already
        problems.append(BadInput(f"{place}.{key_of(declared[name])}", f"is missing ({declared[name].meaning})"))
    return {name: given.get(name, _default(declaration)) for name, declaration in declared.items()}


def given_numbers(
    declared: Mapping[str, Declaration], table: Mapping[str, Any], place: str, problems: list[BadInput], *, some_corners: bool = False
) -> dict[str, float | Array]:
    """Values in SI of the fields that a table gives; with `some_corners` NaN stands at corners it leaves as they are."""
    given: dict[str, float | Array] = {}
    for key, said in table.items():
        try:
            declaration, factor = _meaning(key, declared, f"{place}.{key}")
            if declaration.name in given:
                problems.append(BadInput(f"{place}.{key}", "is given twice, in two units"))
            given[declaration.name] = _value(declaration, factor, said, f"{place}.{key}", some_corners=some_corners)
        except BadInput as problem:
            problems.append(problem)
    return given


def laid_over(below: float | Array, over: float | Array) -> float | Array:
    """A number, or (4,) numbers, with what is given of another one in its place."""
    return np.where(np.isnan(over), below, over) if isinstance(over, np.ndarray) else over


def belongs(key: str, declared: Mapping[str, Declaration]) -> bool:
    """Whether a key of a file stands for one of the declared numbers."""
    tokens = (split_key(key, name) for name in declared)
    return any(token is not None and (not token or token in UNITS) for token in tokens)


def _default(declaration: Declaration) -> float | Array:
    return np.full(4, float(declaration.default)) if declaration.by_corner else float(declaration.default)


def _meaning(key: str, declared: Mapping[str, Declaration], place: str) -> tuple[Declaration, float]:
    """The declaration a key stands for, and the factor from its unit to SI."""
    for declaration in sorted(declared.values(), key=lambda entry: -len(entry.name)):
        token = split_key(key, declaration.name)
        if token is None or (token and token not in UNITS):
            continue
        if (token or "1") not in tokens_like(declaration.unit):
            keys = " or ".join(declaration.name + ("" if like == "1" else f"_{like}") for like in tokens_like(declaration.unit))
            raise BadInput(place, f"the key must name a unit of {declaration.meaning}: expected {keys}")
        return declaration, UNITS[token or "1"].factor
    known = [key_of(declaration) for declaration in declared.values()]
    near = difflib.get_close_matches(key, known, n=1)
    raise BadInput(place, f"unknown key; did you mean {near[0]!r}?" if near else "unknown key")


def _value(declaration: Declaration, factor: float, said: Any, place: str, *, some_corners: bool = False) -> float | Array:
    if not declaration.by_corner:
        return _number(declaration, factor, said, place)
    if not isinstance(said, dict):
        return np.full(4, _number(declaration, factor, said, place))
    values = np.full(4, math.nan)
    for role in _NARROWING:  # from wide to narrow, whatever the order in the file
        if role in said:
            values[list(ROLES[role])] = _number(declaration, factor, said[role], f"{place}.{role}")
    unknown = [role for role in said if role not in _NARROWING]
    if unknown:
        raise BadInput(f"{place}.{unknown[0]}", f"expected one of {', '.join(_NARROWING)}")
    if np.isnan(values).any() and not (some_corners and said):
        raise BadInput(place, f"gives no value for every corner ({', '.join(said)})")
    return values


def _number(declaration: Declaration, factor: float, said: Any, place: str) -> float:
    if isinstance(said, bool) or not isinstance(said, int | float) or not math.isfinite(said):
        raise BadInput(place, f"expected a number ({declaration.meaning}), came {said!r}")
    value = said * factor
    limit = declaration.low if value < declaration.low else declaration.high
    if value != min(max(value, declaration.low), declaration.high):
        word = "below" if value < limit else "above"
        raise BadInput(place, f"{said:g} is {word} {limit / factor:g} ({declaration.meaning})")
    return float(value)

"""Records read from a table of a text file: each key is a field's name and the unit the value is written in."""

from __future__ import annotations

import dataclasses
import difflib
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, TypeVar

from dualduty.errors import BadInput
from dualduty.parameters import Declaration, declarations
from dualduty.units import UNITS, split_key, token_of, tokens_like, unit

_CHOICES: Final = "choices"
_BESIDE: Final = "beside"
Record = TypeVar("Record")


def choice(default: str, choices: tuple[str, ...], meaning: str) -> Any:
    """Declare a field that is one of a few words."""
    return field(default=default, metadata={_CHOICES: choices, "meaning": meaning})


def file_beside(meaning: str) -> Any:
    """Declare a field that names a file, found from the folder of the file that names it; the field holds the path."""
    return field(default="", metadata={_BESIDE: True, "meaning": meaning})


@dataclass(frozen=True)
class Place:
    """Where in which file a value stands."""

    file: str
    path: str = ""

    def __str__(self) -> str:
        return f"{self.file}: {self.path}" if self.path else self.file

    def at(self, key: str) -> Place:
        """The value of `key` in the table at this place."""
        return Place(self.file, f"{self.path}.{key}" if self.path else key)

    def item(self, index: int) -> Place:
        """An element of the list at this place."""
        return Place(self.file, f"{self.path}[{index}]")

    def bad(self, problem: str) -> BadInput:
        """The error that says what is wrong here."""
        return BadInput(str(self), problem)


def nearest(came: str, known: list[str]) -> str:
    """`; did you mean ...?` where a known word is close, else the list of known words."""
    near = difflib.get_close_matches(came, known, n=1)
    return f"; did you mean {near[0]!r}?" if near else f"; expected one of {', '.join(known)}"


def table_at(value: object, place: Place) -> dict[str, object]:
    """`value` as a table."""
    if not isinstance(value, dict):
        raise place.bad(f"expected a table, came {value!r}")
    return value


def tables_at(value: object, place: Place) -> list[tuple[dict[str, object], Place]]:
    """`value` as a list of tables, each with its place."""
    if not isinstance(value, list):
        raise place.bad(f"expected a list of tables ([[{place.path}]]), came {value!r}")
    return [(table_at(entry, place.item(index)), place.item(index)) for index, entry in enumerate(value)]


def text_at(table: Mapping[str, object], key: str, place: Place) -> str:
    """A text that isn't empty."""
    came = table.get(key)
    if not isinstance(came, str) or not came.strip():
        raise place.at(key).bad("expected a text, came nothing" if came is None else f"expected a text, came {came!r}")
    return came.strip()


def flag_at(table: Mapping[str, object], key: str, place: Place) -> bool:
    """A yes or no; no where nothing is said."""
    came = table.get(key, False)
    if not isinstance(came, bool):
        raise place.at(key).bad(f"expected true or false, came {came!r}")
    return came


def keys_of(kind: type) -> list[str]:
    """The keys of a record as one would write them: units are those people say."""
    declared = declarations(kind)
    names = [entry.name for entry in dataclasses.fields(kind) if entry.name in declared or entry.metadata.keys() & {_CHOICES, _BESIDE}]
    return [_key(declared[name]) if name in declared else name for name in names]


def check_keys(kind: type, table: Mapping[str, object], place: Place, also: tuple[str, ...] = ()) -> None:
    """Refuse a table with a key that is no field of the record, or a value out of its range; `also` are keys read elsewhere, for hints."""
    for key, came in table.items():
        _value(kind, key, came, place, also)


def fill(
    kind: type[Record], table: Mapping[str, object], place: Place, made: Mapping[str, object] | None = None, also: tuple[str, ...] = ()
) -> Record:
    """Make a record of declared fields from a table; BadInput names the key, what was expected and what came.

    `made` are fields that were read elsewhere; `also` are keys of the same table that were, for hints.
    """
    values: dict[str, Any] = dict(made or {})
    for key, came in table.items():
        name, value = _value(kind, key, came, place, (*values, *also))
        if name in values:
            raise place.at(key).bad(f"{name} is given twice")
        values[name] = value
    _check_complete(kind, values, place)
    try:
        return kind(**values)
    except ValueError as error:
        raise place.bad(str(error)) from None


def _check_complete(kind: type, values: Mapping[str, Any], place: Place) -> None:
    declared = declarations(kind)
    for name in getattr(kind, "required", ()):
        if name not in values:
            key = _key(declared[name]) if name in declared else name
            words = {entry.name: entry.metadata.get("meaning", "a word") for entry in dataclasses.fields(kind)}
            raise place.at(key).bad(f"expected {declared[name].meaning if name in declared else words[name]}, came nothing")


def _value(kind: type, key: str, came: object, place: Place, also: tuple[str, ...]) -> tuple[str, object]:
    """Field name and SI value of one key."""
    said: Mapping[str, Any] = {entry.name: entry.metadata for entry in dataclasses.fields(kind)}.get(key, {})
    if _CHOICES in said:
        return key, _chosen(said[_CHOICES], came, place.at(key))
    if _BESIDE in said:
        return key, _beside(came, place.at(key))
    declared = declarations(kind)
    for declaration in declared.values():
        token = split_key(key, declaration.name)
        if token is not None and (token or "1") in tokens_like(declaration.unit):
            whole = kind.__annotations__.get(declaration.name) == "int"
            return declaration.name, _number(declaration, token or "1", came, (place.at(key), whole))
    raise place.at(key).bad(_why_unknown(key, declared, list(dict.fromkeys([*keys_of(kind), *also]))))


def _why_unknown(key: str, declared: Mapping[str, Declaration], known: list[str]) -> str:
    for declaration in declared.values():
        token = split_key(key, declaration.name)
        if token == "":
            return f"the key must name its unit; expected {_key(declaration)!r}"
        if token in UNITS:
            expected = ", ".join(f"{declaration.name}_{like}" for like in tokens_like(declaration.unit))
            return f"{UNITS[token].label} is no unit of {unit(declaration.unit).dimension}; expected one of {expected}"
    return f"unknown key{nearest(key, known)}"


def _number(declaration: Declaration, token: str, came: object, at: tuple[Place, bool]) -> float | int:
    place, whole = at
    if isinstance(came, bool) or not isinstance(came, int | float) or not math.isfinite(came):
        raise place.bad(f"expected a number ({declaration.meaning}), came {came!r}")
    if whole and not isinstance(came, int):
        raise place.bad(f"expected a whole number ({declaration.meaning}), came {came!r}")
    label, factor = UNITS[token].label, UNITS[token].factor
    for limit, sign, word in ((declaration.low, -1.0, "below"), (declaration.high, 1.0, "above")):
        if sign * (came * factor - limit) > 1e-12 * abs(limit):  # the rounding of a unit's factor is no fault of the file
            said = "" if label == "1" else f" {label}"
            raise place.bad(f"{came:g}{said} is {word} {limit / factor:g}{said} ({declaration.meaning})")
    return came if whole else came * factor


def _chosen(choices: tuple[str, ...], came: object, place: Place) -> str:
    if not isinstance(came, str) or came not in choices:
        raise place.bad(f"expected one of {', '.join(choices)}, came {came!r}")
    return came


def _beside(came: object, place: Place) -> str:
    if not isinstance(came, str) or not came.strip():
        raise place.bad(f"expected the name of a file, came {came!r}")
    path = Path(place.file).parent / came.strip()
    if not path.is_file():
        raise place.bad(f"found no file {came.strip()!r} in {path.parent}")
    return str(path)


def _key(declaration: Declaration) -> str:
    token = token_of(declaration.said)
    return declaration.name if token == "1" else f"{declaration.name}_{token}"

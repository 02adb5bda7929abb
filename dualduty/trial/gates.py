"""Gates of a working folder: limits that no candidate may cross."""

from __future__ import annotations

import difflib
from collections.abc import Collection
from pathlib import Path
from typing import Any

from dualduty.errors import BadInput
from dualduty.scoring.gate import Gate
from dualduty.scoring.measure import Measure, discover_measures
from dualduty.toml_file import read_toml
from dualduty.units import UNITS, split_key, tokens_like


def read_gates(path: Path, sections: Collection[str], modes: Collection[str]) -> tuple[Gate, ...]:
    """Gates from a TOML file, each under [[gate]]: `measure`, `at_most_UNIT` or `at_least_UNIT`, and where it holds.

    A section or drive mode that doesn't exist is refused: a gate that covers nothing would never be crossed.
    """
    document = read_toml(path)
    entries = document.get("gate", [])
    if set(document) - {"gate"} or not isinstance(entries, list):
        raise BadInput(path, f"expected a list of gates, each under [[gate]]; got {', '.join(document) or 'nothing'}")
    measures = discover_measures()
    gates = tuple(_gate(entry, f"{path}: gate[{index}]", measures) for index, entry in enumerate(entries))
    for index, gate in enumerate(gates):
        _check_known(gate.sections, sections, "section", f"{path}: gate[{index}].sections")
        _check_known(gate.modes, modes, "drive mode", f"{path}: gate[{index}].modes")
    return gates


def _check_known(names: tuple[str, ...], known: Collection[str], kind: str, place: str) -> None:
    for name in names:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            hint = f"; did you mean {near[0]!r}?" if near else ""
            raise BadInput(place, f"expected a {kind}, one of {', '.join(known)}, got {name!r}{hint}")


def _gate(entry: Any, place: str, measures: dict[str, Measure]) -> Gate:
    if not isinstance(entry, dict) or entry.get("measure") not in measures:
        got = entry.get("measure") if isinstance(entry, dict) else entry
        near = difflib.get_close_matches(str(got), measures, n=1)
        raise BadInput(f"{place}.measure", f"expected a measure, got {got!r}" + (f"; did you mean {near[0]!r}?" if near else ""))
    measure = measures[entry["measure"]]
    word = "at_least" if measure.direction == "higher" else "at_most"
    limits = {key: split_key(key, word) for key in entry if split_key(key, word) is not None}
    rest = set(entry) - {"measure", "modes", "sections", *limits}
    if len(limits) != 1 or rest:
        raise BadInput(
            place,
            f"expected measure, {word} with its unit ({' or '.join(tokens_like(measure.unit))}), modes, sections; got {', '.join(entry)}",
        )
    key, token = next(iter(limits.items()))
    token = token or "1"
    value = entry[key]
    if token not in tokens_like(measure.unit) or isinstance(value, bool) or not isinstance(value, int | float):
        raise BadInput(f"{place}.{key}", f"expected a number under {word}_ with {' or '.join(tokens_like(measure.unit))}, got {value!r}")
    return Gate(measure.name, value * UNITS[token].factor, _names(entry, "modes", place), _names(entry, "sections", place))


def _names(entry: dict[str, Any], key: str, place: str) -> tuple[str, ...]:
    names = entry.get(key, [])
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        raise BadInput(f"{place}.{key}", f"expected a list of names, got {names!r}")
    return tuple(names)

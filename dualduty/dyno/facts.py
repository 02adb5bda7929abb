"""What a sheet tells about its test, from `# key: value` lines to facts in SI."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from typing import Final

from dualduty.dyno.sheet import Facts
from dualduty.dyno.sheet_file import SheetFile, place
from dualduty.errors import BadInput
from dualduty.signals import CORNERS
from dualduty.units import UNITS, split_key, token_of, tokens_like

SIGNS: Final = ("compression_positive", "rebound_positive")
_TEXTS: Final = ("serial", "build", "vehicle", "corner", "sign", "warm_up", "waveform", "date", "provenance")
_NUMBERS: Final = {  # name -> unit as written, least, most; bounds catch slips of units, they are common practice
    "oil_temperature": ("°C", -40.0, 160.0),
    "gas_pressure": ("bar", 0.0, 60e5),
    "stroke": ("mm", 0.01, 1.5),
    "repeats": ("1", 1.0, 1000.0),
}


def read_facts(file: SheetFile, problems: list[BadInput]) -> tuple[dict[str, str], Facts | None]:
    """Who the damper is (serial, build, vehicle, corner) and the facts of the test; None where any is missing or wrong."""
    before = len(problems)
    texts = {name: _text(file, name, problems) for name in _TEXTS}
    used = set(_TEXTS)
    numbers = {}
    for name in _NUMBERS:
        key, numbers[name] = _quantity(file, name, problems)
        used.add(key)
    _check_choice(file, "corner", CORNERS, problems)
    _check_choice(file, "sign", SIGNS, problems)
    if len(problems) > before:
        return texts, None
    other = {key: said for key, (_, said) in file.facts.items() if key not in used}
    facts = Facts(
        numbers["oil_temperature"], numbers["gas_pressure"], texts["warm_up"], texts["waveform"], numbers["stroke"],
        int(numbers["repeats"]), texts["sign"], texts["date"], texts["provenance"], other,
    )  # fmt: skip
    return texts, facts


def _text(file: SheetFile, name: str, problems: list[BadInput]) -> str:
    _, said = file.facts.get(name, (0, ""))
    if not said:
        problems.append(_missing(file, name, name))
    return said


def _missing(file: SheetFile, name: str, key: str) -> BadInput:
    if name in file.facts:
        return BadInput(place(file.path, file.facts[name][0]), f"expected a text after `# {key}:`, came nothing")
    near = difflib.get_close_matches(key, file.facts, n=1, cutoff=0.75)
    hint = f"; line {file.facts[near[0]][0]} says {near[0]!r}" if near else ""
    return BadInput(file.path, f"expected a line `# {key}: ...` at the top, found none{hint}")


def _quantity(file: SheetFile, name: str, problems: list[BadInput]) -> tuple[str, float]:
    """The key that was used, and the value in SI (°C for a temperature)."""
    said, least, most = _NUMBERS[name]
    written = name if said == "1" else f"{name}_{token_of(said)}"
    for key, (line, text) in file.facts.items():
        token = split_key(key, name)
        if token is None:
            continue
        if (token or "1") not in tokens_like(said):
            problems.append(BadInput(place(file.path, line), f"{key}: the key must name a unit; expected {written}"))
            return key, math.nan
        try:
            return key, _number(text, UNITS[token or "1"].factor, (least, most), f"{place(file.path, line)}: {key}")
        except BadInput as problem:
            problems.append(problem)
            return key, math.nan
    problems.append(_missing(file, name, written))
    return written, math.nan


def _number(text: str, factor: float, bounds: tuple[float, float], where: str) -> float:
    try:
        value = float(text) * factor
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise BadInput(where, f"expected a number with a decimal point, came {text!r}")
    if not bounds[0] <= value <= bounds[1]:
        raise BadInput(where, f"expected {bounds[0] / factor:g} to {bounds[1] / factor:g}, came {text}")
    return value


def _check_choice(file: SheetFile, name: str, known: tuple[str, ...], problems: list[BadInput]) -> None:
    line, said = file.facts.get(name, (0, ""))
    if said and said not in known:
        problems.append(BadInput(place(file.path, line), f"{name}: expected {' or '.join(known)}, came {said!r}"))


def declared_sign(facts: Mapping[str, tuple[int, str]]) -> float:
    """1 where compression counts positive, -1 where rebound does, nan where the sheet doesn't say."""
    said = facts.get("sign", (0, ""))[1]
    return {"compression_positive": 1.0, "rebound_positive": -1.0}.get(said, math.nan)

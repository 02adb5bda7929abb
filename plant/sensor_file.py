"""Sensors and faults read from text files: keys name the field and a unit of the channel.

A sensors file has a table per channel, and may have `seed`, `[mounting]` and `[[fault]]`:

    provenance = "bench check of 12 May, car 2"

    [shaft_travel]
    noise_mm = 0.3
    offset_mm = { front_left = 1.2, front_right = -0.4, rear_left = 0.0, rear_right = 0.3 }
    corner_hz = 150
    delay_ms = 0.5

    [[fault]]
    kind = "stuck"
    channel = "shaft_travel"
    corner = "rear_left"
    start_s = 2.0

A faults file has `[[fault]]` only.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

from dualduty.errors import BadInput
from dualduty.parameters import param
from dualduty.signals import CORNERS, ROLES, SIGNALS, Signal
from dualduty.toml_file import read_toml
from plant.faults import KINDS, Fault
from plant.section_file import Place, choice, fill, nearest, table_at, tables_at, text_at
from plant.sensors import BY_CORNER, Mounting, SensorError, Sensors, check_error

_FAULT: Final = "fault"
_MOUNTING: Final = "mounting"
_PROVENANCE: Final = "provenance"
_MINUTE: Final = 60.0
_SIZES: Final = {  # fields in the channel's own unit, and what they mean
    "noise": "standard deviation of a sample",
    "offset": "offset measured on this vehicle",
    "offset_spread": "standard deviation of an unknown offset",
    "drift_per_minute": "drift of the offset in a minute",
    "drift_spread_per_minute": "standard deviation of an unknown drift in a minute",
    "low": "lower end of the range",
    "high": "upper end of the range",
    "grid": "resolution",
}
_SIGNED: Final = ("offset", "drift_per_minute", "low", "high")


@dataclass(frozen=True)
class _Plain:
    """The fields of an error whose unit is the same for all channels."""

    gain: float = param(1.0, "1", -10.0, 10.0, "gain measured on this vehicle")
    gain_spread: float = param(0.0, "1", 0.0, 1.0, "standard deviation of an unknown gain error", said="%")
    corner_hz: float = param(0.0, "1", 0.0, 1e5, "corner of the low-pass filter in Hz; 0: none")
    order: int = param(1, "1", 1, 2, "order of the low-pass filter")
    delay: float = param(0.0, "s", 0.0, 10.0, "dead time", said="ms")
    period: float = param(0.0, "s", 0.0, 10.0, "the sensor's own sampling period; 0: none", said="ms")
    dropout: float = param(0.0, "1", 0.0, 1.0, "share of samples that give nothing", said="%")


@dataclass(frozen=True)
class _General:
    """Keys of a sensors file outside any table."""

    seed: int = param(0, "1", 0, 2**31, "seed of everything drawn")


@dataclass(frozen=True)
class _FaultPlace:
    """What a fault is, before one knows in which unit its size is written."""

    kind: str = choice(KINDS[0], KINDS, "what goes wrong")
    channel: str = choice("", tuple(SIGNALS), "where")
    required = ("kind",)


def read_sensors(path: Path) -> Sensors:
    """Read a sensors file; BadInput says file, key, what was expected and what came."""
    place, table = Place(str(path)), read_toml(path)
    text_at(table, _PROVENANCE, place)
    faults = _faults(table.get(_FAULT, []), place.at(_FAULT))
    mounting = fill(Mounting, table_at(table.get(_MOUNTING, {}), place.at(_MOUNTING)), place.at(_MOUNTING))
    errors, general = {}, {}
    for key, came in table.items():
        if key in SIGNALS:
            errors[key] = _error(SIGNALS[key], table_at(came, place.at(key)), place.at(key))
        elif key not in {_FAULT, _MOUNTING, _PROVENANCE}:
            general[key] = came
    _check_channels(general, place)
    return Sensors(errors, fill(_General, general, place, also=tuple(SIGNALS)).seed, faults, mounting)


def read_faults(path: Path) -> tuple[Fault, ...]:
    """Read a faults file; BadInput as of `read_sensors`."""
    place, table = Place(str(path)), read_toml(path)
    for key in table:
        if key != _FAULT:
            raise place.at(key).bad(f"unknown key{nearest(key, [_FAULT])}")
    return _faults(table.get(_FAULT, []), place.at(_FAULT))


def _check_channels(general: Mapping[str, object], place: Place) -> None:
    """A table that is no channel is a misspelt one."""
    for key, came in general.items():
        if isinstance(came, dict):
            raise place.at(key).bad(f"no such channel{nearest(key, list(SIGNALS))}")


def _error(signal: Signal, table: Mapping[str, object], place: Place) -> SensorError:
    kind = _error_record(signal)
    single = {key: came for key, came in table.items() if not isinstance(came, dict)}
    record = fill(kind, single, place)
    values: dict[str, Any] = {entry.name: getattr(record, entry.name) for entry in dataclasses.fields(kind)}
    for key in table.keys() - single.keys():
        name, four = _by_corner(signal, key, table_at(table[key], place.at(key)), place)
        values[name] = four
    drifts = {name: values.pop(f"{name}_per_minute") / _MINUTE for name in ("drift", "drift_spread")}
    error = SensorError(**values, **drifts)
    try:
        check_error(error, signal.corners, signal.name)
    except BadInput as bad:
        raise place.bad(bad.problem) from None
    return error


def _by_corner(signal: Signal, key: str, table: Mapping[str, object], place: Place) -> tuple[str, tuple[float, ...]]:
    """Field and its four values from a table by corner."""
    name = max((name for name in BY_CORNER if key.startswith(name)), key=len, default="")
    if signal.corners == 1 or not name:
        raise place.at(key).bad("expected a number, came a table")
    if set(table) != set(CORNERS):
        raise place.at(key).bad(f"expected a value for each of {', '.join(CORNERS)}; came {', '.join(table) or 'nothing'}")
    return name, tuple(float(getattr(fill(_error_record(signal), {key: table[corner]}, place.at(corner)), name)) for corner in CORNERS)


@cache
def _error_record(signal: Signal) -> type[Any]:
    """The fields of an error as a file writes them, with the units of a channel."""
    fields = [(name, "float", _sized(signal, name, meaning)) for name, meaning in _SIZES.items()]
    made = dataclasses.make_dataclass("WrittenError", fields, bases=(_Plain,), frozen=True)
    made.__annotations__ = {**_Plain.__annotations__, **made.__annotations__}  # `fill` looks there for whole numbers
    return made


def _sized(signal: Signal, name: str, meaning: str) -> Any:
    default = {"low": -math.inf, "high": math.inf}.get(name, 0.0)
    return param(default, signal.unit, -math.inf if name in _SIGNED else 0.0, math.inf, meaning, said=signal.said)


def _faults(came: object, place: Place) -> tuple[Fault, ...]:
    return tuple(_fault(table, at) for table, at in tables_at(came, place))


def _fault(table: Mapping[str, object], place: Place) -> Fault:
    rest = {key: came for key, came in table.items() if key not in {"kind", "channel", "section"}}
    what = fill(_FaultPlace, {key: table[key] for key in ("kind", "channel") if key in table}, place)
    section = text_at(table, "section", place) if "section" in table else ""
    record = fill(_fault_record(what.channel), rest, place, also=("kind", "channel", "section"))
    values: dict[str, Any] = {entry.name: getattr(record, entry.name) for entry in dataclasses.fields(record)}
    values["growth"] = values.pop("growth_per_second")
    try:
        return Fault(what.kind, what.channel, section=section, **values)
    except BadInput as bad:
        raise place.bad(bad.problem) from None


@cache
def _fault_record(channel: str) -> type[Any]:
    """The other fields of a fault, sizes in the units of its channel."""
    unit, said = (SIGNALS[channel].unit, SIGNALS[channel].said) if channel else ("1", "1")
    fields: list[tuple[str, str, Any]] = [
        ("corner", "str", choice("", tuple(ROLES), "where")),
        ("with_corner", "str", choice("", CORNERS, "the other corner")),
        ("start", "float", param(0.0, "s", 0.0, math.inf, "when it begins")),
        ("duration", "float", param(math.inf, "s", 0.0, math.inf, "how long it lasts; to the end unless given")),
        ("size", "float", param(0.0, unit, -math.inf, math.inf, "what a spike adds", said=said)),
        ("growth_per_second", "float", param(0.0, unit, -math.inf, math.inf, "growth of a drift in a second", said=said)),
        ("every", "float", param(0.0, "s", 0.0, math.inf, "mean time between spikes")),
        ("seed", "int", param(-1, "1", -1, 2**31, "seed of the cases that have it")),
    ]
    return dataclasses.make_dataclass("WrittenFault", fields, frozen=True)

"""One column as a channel map words it: names, unit, curve, sign, scale, offset, latency, group."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any, Final

from dualduty.signals import Signal
from dualduty.units import unit
from replay.channels.channel_map import Channel
from replay.channels.recorded_unit import RecordedUnit, recorded_unit
from replay.toml_table import Table

# Said once for all corners, or corner by corner.
SHARED_KEYS: Final = (
    "unit",
    "sign",
    "scale",
    "offset",
    "curve",
    "latency_ms",
    "group",
    "bridge_ms",
)
COLUMN_KEYS: Final = ("column", "alternatives", *SHARED_KEYS)
MARKER_KEYS: Final = ("column", "alternatives", "on_above", "group", "latency_ms", "bridge_ms")
PRESSED: Final = 0.5  # our choice: a button is 0 or 1 in most loggers
_ONE: Final = RecordedUnit("1", ("number",), 1.0)


def read_channel(table: Table, signal: Signal, corner: int) -> list[Channel]:
    """The channel a table describes; none where it names no column."""
    columns = read_columns(table)
    dimension = unit(signal.unit).dimension
    said = read_unit(table, dimension, "unit" in table.values or dimension != "number")
    sign = table.number("sign", 1.0, -1.0, 1.0)
    if abs(sign) != 1.0:
        table.bad("sign", f"expected 1 or -1, came {sign:g}")
    scale = table.number("scale", 1.0, -1e12, 1e12)
    if scale == 0.0:
        table.bad("scale", "expected anything but 0")
    offset = table.number("offset", 0.0, -1e12, 1e12)
    made = Channel(
        signal.name, corner, columns, sign * scale * said.gain, sign * (offset * said.gain + said.shift),
        table.number("bridge_ms", 0.0, 0.0, 60e3) / 1e3, table.place, _curve(table), _latency(table), read_group(table),
    )  # fmt: skip
    return [made] if columns else []


def read_marker(table: Table, signal: Signal) -> list[Channel]:
    """The driver's button: pressed while more than `on_above` is recorded, in whatever unit the logger has."""
    table.only(MARKER_KEYS)
    columns = read_columns(table)
    threshold = table.number("on_above", PRESSED, -1e12, 1e12)
    bridge = table.number("bridge_ms", 0.0, 0.0, 60e3) / 1e3
    made = Channel(
        signal.name, 0, columns, bridge=bridge, key=table.place, latency=_latency(table), group=read_group(table), on_above=threshold
    )
    return [made] if columns else []


def read_columns(table: Table) -> tuple[str, ...]:
    """The name looked for and its alternatives, each once."""
    first = table.text("column")
    others = table.texts("alternatives")
    return tuple(dict.fromkeys(name for name in (first, *others) if name))


def read_group(table: Table) -> str:
    """The group of the recording to look in; "": any."""
    return table.text("group") if "group" in table.values else ""


def read_unit(table: Table, dimension: str, must: bool) -> RecordedUnit:
    """The unit of a table, which must measure `dimension`."""
    if "unit" not in table.values:
        if must:
            table.bad("unit", f"expected a unit of {dimension}, came nothing")
        return _ONE
    label = table.values["unit"]
    if not isinstance(label, str):
        table.bad("unit", f"expected a unit of {dimension}, came {label!r}")
        return _ONE
    try:
        known = recorded_unit(label)
    except ValueError as error:
        table.bad("unit", str(error))
        return _ONE
    if dimension in known.dimensions:
        return known
    table.bad("unit", f"expected a unit of {dimension}, came {label!r}, a unit of {known.dimension}")
    return _ONE


def _latency(table: Table) -> float:
    return table.number("latency_ms", 0.0, -60e3, 60e3) / 1e3


def _curve(table: Table) -> tuple[tuple[float, float], ...]:
    """Pairs of recorded value and reading, the recorded ones strictly rising or falling."""
    value = table.values.get("curve", [])
    if not isinstance(value, list) or not all(_is_pair(pair) for pair in value) or ("curve" in table.values and len(value) < 2):  # noqa: PLR2004
        table.bad("curve", f"expected two or more pairs [recorded, reading], e.g. [[0.5, 0], [4.5, 300]], came {value!r}")
        return ()
    points = tuple((float(recorded), float(reading)) for recorded, reading in value)
    steps = [b[0] - a[0] for a, b in pairwise(points)]
    if steps and not (min(steps) > 0.0 or max(steps) < 0.0):
        at = next(index for index, step in enumerate(steps) if step == 0.0 or (step > 0.0) != (steps[0] > 0.0))
        table.bad("curve", f"expected recorded values that only rise or only fall, came {points[at + 1][0]:g} after {points[at][0]:g}")
        return ()
    return points


def _is_pair(pair: Any) -> bool:
    return isinstance(pair, list) and len(pair) == 2 and all(_is_number(value) for value in pair)  # noqa: PLR2004 - a pair


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)

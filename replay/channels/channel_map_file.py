"""Channel maps as files (TOML): read with all problems at once, each with its key."""

from __future__ import annotations

import codecs
import math
from pathlib import Path
from typing import Any, Final

from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.signals import CONTROLLER_SIGNALS, CORNER_LABELS, CORNERS, INSTRUMENTATION, Signal
from replay.channels.channel_map import DEFAULT_HOLD, MARKER, Channel, ChannelMap, ModeSource, TimeBase
from replay.channels.channel_table import COLUMN_KEYS, SHARED_KEYS, read_channel, read_columns, read_group, read_marker, read_unit
from replay.channels.mounting_table import read_mounting
from replay.formats.file_form import FileForm
from replay.toml_table import Table, load_table

_TOP: Final = ("note", "time", "mode", "file", "run", "signals", "commands", "states", "marker", "inertial_unit")
_MAPPABLE: Final = {signal.name: signal for signal in (*CONTROLLER_SIGNALS, *INSTRUMENTATION)}
_CORNER_OF: Final = {spelled: corner for names in (CORNERS, CORNER_LABELS) for corner, spelled in enumerate(names)}


def read_channel_map(path: Path | str) -> ChannelMap:
    """Read a channel map; BadInput or SeveralBadInputs with file and key."""
    top = load_table(Path(path))
    top.only(_TOP)
    _bare_time(top)
    channels, extra = _all_channels(top)
    run_sheet = {key: str(value) for key, value in top.table("run").values.items()}
    made = ChannelMap(
        file=str(path), time=_time(top.table("time")), mode=_mode(top.table("mode")), channels=tuple(channels), extra=tuple(extra),
        driven_by=run_sheet.get("driven_by", ""), run=run_sheet,
        longest_hold=top.table("time").number("longest_hold_ms", DEFAULT_HOLD * 1e3, 1.0, 60e3) / 1e3,
        form=_form(top.table("file")), mounting=read_mounting(top.table("inertial_unit"), channels),
    )  # fmt: skip
    _refuse_shared_columns(top, channels)
    if top.problems:
        raise top.problems[0] if len(top.problems) == 1 else SeveralBadInputs(list(dict.fromkeys(top.problems)))
    return made


def _bare_time(top: Table) -> None:
    for key in ("time", "mode"):
        if key not in top.values:
            top.bad(key, f"expected a table [{key}], came nothing")


def _form(table: Table) -> FileForm:
    """How the text of the file is laid out, as far as the map says."""
    table.only(("delimiter", "decimal", "encoding", "header_line", "lines_below_header"))
    decimal = table.text("decimal") if "decimal" in table.values else ""
    if decimal not in ("", ",", "."):
        table.bad("decimal", f'expected "," or ".", came {decimal!r}')
    below = _whole(table, "lines_below_header", 100.0) if "lines_below_header" in table.values else None
    return FileForm(_delimiter(table), decimal == "," if decimal else None, _encoding(table), _whole(table, "header_line", 1e6), below)


def _delimiter(table: Table) -> str:
    value = table.values.get("delimiter", "")
    if not isinstance(value, str) or ("delimiter" in table.values and len(value) != 1):
        table.bad("delimiter", f'expected one character, e.g. ";" or "\\t", came {value!r}')
        return ""
    return value


def _encoding(table: Table) -> str:
    name = table.text("encoding") if "encoding" in table.values else ""
    try:
        return codecs.lookup(name).name if name else ""
    except (LookupError, ValueError):
        table.bad("encoding", f'expected the name of an encoding, e.g. "utf-8", "utf-16" or "cp1252", came {name!r}')
        return ""


def _whole(table: Table, key: str, high: float) -> int:
    value = table.number(key, 0.0, 0.0, high)
    if value != int(value):
        table.bad(key, f"expected a whole number, came {value:g}")
    return int(value)


def _time(table: Table) -> TimeBase:
    """A column of stamps, a fixed rate, or with neither the recording's own clock."""
    table.only(("column", "alternatives", "unit", "rate_hz", "longest_hold_ms"))
    if "rate_hz" in table.values:
        if "column" in table.values:
            table.bad("rate_hz", "expected either a column of stamps or a fixed rate, came both")
        return TimeBase(rate=table.number("rate_hz", 1.0, 1e-3, 1e7))
    if not {"column", "alternatives", "unit"} & set(table.values):
        return TimeBase()
    columns = read_columns(table)
    return TimeBase(columns, read_unit(table, "time", "column" in table.values).gain)


def _mode(table: Table) -> ModeSource:
    table.only(("column", "alternatives", "names", "constant", "before_first", "group"))
    constant = table.text("constant") if "constant" in table.values else ""
    if constant:
        if "column" in table.values:
            table.bad("constant", "expected either a column or one mode throughout, came both")
        return ModeSource(constant=constant)
    columns = read_columns(table)
    names = {recorded(key): _mode_name(table, key, value) for key, value in table.table("names").values.items()}
    if columns and not names:
        table.bad("names", 'expected a table from recorded value to drive mode, e.g. { 0 = "patrol" }, came nothing')
    before = table.text("before_first") if "before_first" in table.values else ""
    return ModeSource(columns, names, "", before, read_group(table))


def _mode_name(table: Table, key: str, value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        table.bad(f"names.{key}", f"expected the name of a drive mode, came {value!r}")
        return ""
    return value.strip()


def recorded(value: Any) -> str:
    """One spelling for a recorded value: numbers as numbers (`1`, `1.0` and ` 1` are the same), text stripped."""
    text = str(value).strip()
    try:
        number = float(text)
    except ValueError:
        return text
    return f"{number:.12g}" if math.isfinite(number) else ""


def _all_channels(top: Table) -> tuple[list[Channel], list[Signal]]:
    channels: list[Channel] = []
    extra: list[Signal] = []
    for table in top.tables("signals", list(_MAPPABLE)):
        signal = _MAPPABLE[table.name]
        channels += _channels(table, signal)
        extra += [signal] if signal in INSTRUMENTATION else []
    for table in top.tables("commands", ["compression", "rebound"]):
        signal = Signal(f"logged_{table.name}", "1", "%", 4, 0.0, -0.05, 1.05, 1e9, f"{table.name} duty the vehicle commanded", seen=False)
        channels += _channels(table, signal)
        extra.append(signal)
    for table in top.tables("states", None):
        corners = 4 if any(key in _CORNER_OF for key in table.values) else 1
        signal = Signal(f"logged_{table.name}", "1", "1", corners, 0.0, 0.0, 1.0, 1e9, f"{table.name} as the vehicle saw it", seen=False)
        channels += _channels(table, signal)
        extra.append(signal)
    if "marker" in top.values:
        channels += read_marker(top.table("marker"), MARKER)
        extra.append(MARKER)
    return channels, extra


def _channels(table: Table, signal: Signal) -> list[Channel]:
    """Channels of one signal: one, or one per corner, each laid over what the signal's table says for all."""
    if signal.corners == 1:
        table.only(COLUMN_KEYS, _why_no_corner(table, signal))
        return read_channel(table, signal, 0)
    table.only((*SHARED_KEYS, "shared", *_CORNER_OF), _why_no_column(table, signal))
    made: list[Channel] = []
    given = [key for key in table.values if key in _CORNER_OF]
    if not given:
        table.bad("", f"expected a column for each corner ({', '.join(CORNERS)}), came none")
    for key in given:
        if any(channel.corner == _CORNER_OF[key] for channel in made):
            table.bad(key, f"corner {CORNERS[_CORNER_OF[key]]} is given twice")
        corner = table.inline(key, "column", COLUMN_KEYS)
        made += read_channel(corner.over(table, SHARED_KEYS), signal, _CORNER_OF[key])
    table.flag("shared")
    return made


def _why_no_corner(table: Table, signal: Signal) -> dict[str, str]:
    return {key: f"{signal.name} has no corners; expected column = ..." for key in table.values if key in _CORNER_OF}


def _why_no_column(table: Table, signal: Signal) -> dict[str, str]:
    text = f"{signal.name} has four corners; expected {', '.join(CORNERS)}"
    return {key: text for key in ("column", "alternatives") if key in table.values}


def _refuse_shared_columns(top: Table, channels: list[Channel]) -> None:
    """One column for two channels is a slip of copying, unless the signal says `shared = true`."""
    owners: dict[tuple[str, str], Channel] = {}
    signals = top.values.get("signals")
    for channel in channels:
        other = owners.setdefault((channel.columns[0], channel.group), channel)
        table = signals.get(channel.name) if isinstance(signals, dict) else None
        shared = isinstance(table, dict) and table.get("shared") is True and other.name == channel.name
        if other is not channel and not shared:
            hint = "; say shared = true if one sensor really serves them all" if other.name == channel.name else ""
            top.problems.append(
                BadInput(f"{top.file}: {channel.key}", f"column {channel.columns[0]!r} is already used by {other.key}{hint}")
            )

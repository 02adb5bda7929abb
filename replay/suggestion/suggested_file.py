"""A suggested channel map as a file to be looked through: doubtful lines say why, what the log can't tell is commented out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from pathlib import Path
from typing import Final

from dualduty.signals import CORNERS
from replay.channels.recorded_unit import is_unit, recorded_unit
from replay.suggestion.channel_words import said_by
from replay.suggestion.inspection import ChannelSeen, GroupSeen, Inspection
from replay.suggestion.suggest_map import upward
from replay.suggestion.suggest_weigh import SURE, UNSURE, Guess

_HEAD: Final = """\
# Channel map suggested from {name}.
# A line without a comment is sure: name, unit and values agree. A line with a comment is likely: look at it.
# A line that is commented out could not be told from the log alone: settle it, then take the # away.
"""
_SLOW: Final = 1.5  # samples of the group to one of the channel; beyond it blanks are bridged
_BRIDGED: Final = 2.0  # times its usual step
_DOWN: Final = "z points down in the log; where y points right that is"


def suggested_file(seen: Inspection, guesses: Sequence[Guess], modes: Sequence[str] = ()) -> str:
    """The text of a channel map (TOML); `modes` are the drive modes of the calibrations, in order."""
    names = [entry.name for entry in seen.channels]
    several = {name for name in names if names.count(name) > 1}
    parts = [_HEAD.format(name=Path(seen.name).name), _time(seen.groups), _mode(seen, modes)]
    for _, family in groupby(guesses, key=lambda guess: (guess.target.table, guess.target.name)):
        parts.append(_table(list(family), several, seen))
    parts.append(_one_speed(seen, guesses))
    parts.append(_mounting(guesses))
    parts.append(_twice(seen))
    return "\n".join(part for part in parts if part)


def quoted(text: str) -> str:
    """A text as TOML writes it."""
    import tomlkit

    return tomlkit.item(text).as_string()


def _time(groups: Sequence[GroupSeen]) -> str:
    clocks = list(dict.fromkeys(group.clock for group in groups if group.clock))
    if not clocks:
        if all(group.own_clock for group in groups):
            return "[time]  # each group has its own clock\n"
        return "[time]\n# rate_hz = 100  # no column of stamps was found: say the rate\n"
    lines = ["[time]", f"column = {quoted(clocks[0])}"]
    lines += [f"alternatives = [{', '.join(map(quoted, clocks[1:]))}]"] if len(clocks) > 1 else []
    first = next(group for group in groups if group.clock)
    doubt = "" if first.unit_is_said else f"  # no unit in the log; {first.time_unit} makes {first.rate:.4g} samples a second"
    return "\n".join([*lines, f"unit = {quoted(first.time_unit)}{doubt}", ""])


def _mode(seen: Inspection, modes: Sequence[str]) -> str:
    found = [
        entry for entry in seen.channels if "mode" in said_by(entry.name).meanings and not entry.twice and (entry.text or entry.values)
    ]
    if not found:
        return f"[mode]\n# constant = {quoted(modes[0] if modes else 'name')}  # no column of drive modes was found: say the one driven\n"
    entry = min(found, key=lambda one: len(said_by(one.name).strange))
    held = [text for text in entry.words if text.strip()] if entry.text else [f"{value:g}" for value in entry.values or ()]
    sure = bool(held) and all(value in modes for value in held)
    as_index = modes if all(value.isdigit() and int(value) < len(modes) for value in held) else ()
    names = {value: value for value in held} if sure else {str(i): mode for i, mode in enumerate(as_index)} or dict.fromkeys(held, "?")
    table = ", ".join(f"{quoted(key)} = {quoted(name)}" for key, name in names.items())
    doubt = "" if sure else f"  # the log holds {', '.join(held)}; which mode each is it does not say"
    return f"[mode]\ncolumn = {quoted(entry.name)}\n{'' if sure else '# '}names = {{ {table} }}{doubt}\n"


def _table(family: list[Guess], several: set[str], seen: Inspection) -> str:
    """One signal: its header, what all corners share, and a line for each column."""
    target = family[0].target
    header = f"[{target.table}.{target.name}]" if target.table != target.name else f"[{target.name}]"
    live = [guess for guess in family if guess.grade != UNSURE]
    off = "" if live else "# "
    units = list(dict.fromkeys(guess.unit for guess in live or family))
    lines = [f"{off}{header}"]
    if target.usual != ("1",) and units[0]:
        lines.append(f"{off}unit = {quoted(units[0])}")
    bridge = max((_bridge(guess.channel, seen.groups[guess.channel.group]) for guess in live or family), default=0)
    lines += [f"{off}bridge_ms = {bridge}  # comes slower than the samples of its group"] if bridge else []
    for guess in family:
        lines += _column(guess, units[0], several, seen)
    return "\n".join([*lines, ""])


def _column(guess: Guess, unit: str, several: set[str], seen: Inspection) -> Iterable[str]:
    more = [f"unit = {quoted(guess.unit)}"] if guess.unit != unit else []
    more += [f"group = {quoted(seen.groups[guess.channel.group].name)}"] if guess.channel.name in several else []
    off = "# " if guess.grade == UNSURE else ""
    doubt = f"  # {guess.grade}: {' '.join(guess.doubt.split())}" if guess.grade != SURE else ""
    column = quoted(guess.channel.name)
    if guess.target.corner < 0:
        yield f"{off}column = {column}{doubt}"
        yield from (f"{off}{line}" for line in more)
    else:
        value = f"{{ column = {column}, {', '.join(more)} }}" if more else column
        yield f"{off}{CORNERS[guess.target.corner]} = {value}{doubt}"


def _bridge(channel: ChannelSeen, group: GroupSeen) -> int:
    """How long blanks between the values of a slow channel are filled: two of its steps. [ms]"""
    slow = channel.rate > 0.0 and group.rate > _SLOW * channel.rate
    return round(_BRIDGED * 1e3 / channel.rate) if slow else 0


def _one_speed(seen: Inspection, guesses: Sequence[Guess]) -> str:
    """A speed of the vehicle, where none of a wheel was found: whether it may stand in is for the engineer to say."""
    if any(guess.target.name == "wheel_speed" for guess in guesses):
        return ""
    taken = {guess.channel.name for guess in guesses}
    speeds = [entry for entry in seen.channels if "speed" in said_by(entry.name).meanings and entry.samples and entry.name not in taken]
    found = next((entry for entry in speeds if said_by(entry.name).corner is None and _is_speed(entry.unit)), None)
    if found is None:
        return ""
    corners = [f"# {corner} = {quoted(found.name)}" for corner in CORNERS]
    head = ["# [signals.wheel_speed]  # one speed for four wheels knows nothing of slip, of a locked wheel and of flight"]
    return "\n".join([*head, f"# unit = {quoted(found.unit)}", "# shared = true", *corners, ""])


def _is_speed(unit: str) -> bool:
    return is_unit(unit) and recorded_unit(unit).dimension == "speed"


def _mounting(guesses: Sequence[Guess]) -> str:
    up = upward(guesses)
    if up in ("", "z"):
        return ""
    if up == "-z":
        return f'# [inertial_unit]  # {_DOWN}\n# forward = "x"\n# left = "-y"\n# up = "-z"\n'
    untold = "which way the others point the log does not say"
    return f'# [inertial_unit]  # {up} points up; {untold}\n# forward = "?"\n# left = "?"\n# up = "{up}"\n'


def _twice(seen: Inspection) -> str:
    names = dict.fromkeys(entry.name for entry in seen.channels if entry.twice)
    return f"# Left out, for several columns have one name: {', '.join(map(quoted, names))}\n" if names else ""

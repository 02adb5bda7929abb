"""Which column of a recording is time, and in which unit, where no map says so."""

from __future__ import annotations

from typing import Final

from replay.channels.channel_map import TimeBase
from replay.channels.recorded_unit import recorded_unit
from replay.recording import Group, Recording
from replay.suggestion.channel_words import said_by
from replay.suggestion.running_look import ClockLook

_LONGEST_STEP: Final = 0.5  # s; our choice: a logger whose stamps say no unit has more than two samples a second


def guessed_time(group: Group) -> tuple[str, str]:
    """The column of stamps by its name, and its unit; "" for the group's own clock."""
    if group.clock:
        return "", "s"
    timely = [column for column in group.columns if "time" in said_by(column.name).meanings and group.names.count(column.name) == 1]
    if not timely:
        return "", ""
    best = min(timely, key=lambda column: len(said_by(column.name).strange) + len(said_by(column.name).meanings))
    unit = said_by(best.name).unit
    return best.name, best.unit or (unit.label if unit is not None else "")


def guessed_time_base(recording: Recording) -> TimeBase:
    """What gives time in a recording, by the names of its columns and their first steps; the groups' own clocks where none is found."""
    found = {index: guessed_time(group) for index, group in enumerate(recording.groups)}
    named = [(index, column, unit) for index, (column, unit) in found.items() if column]
    if not named:
        return TimeBase()
    index, column, unit = named[0]
    look = ClockLook()
    for block in recording.blocks(index, [column]):
        look.see(block.numbers[column])
        break
    return TimeBase(tuple(dict.fromkeys(column for _, column, _ in named)), seconds_of(unit, look.usual)[0])


def seconds_of(unit: str, step: float) -> tuple[float, bool]:
    """Seconds a stamp, and whether the recording says so; else what makes the usual step a rate of a logger."""
    try:
        known = recorded_unit(unit) if unit else None
    except ValueError:
        known = None
    if known is not None and known.dimension == "time":
        return known.gain, True
    return next((factor for factor in (1.0, 1e-3, 1e-6) if not step * factor >= _LONGEST_STEP), 1e-9), False  # without a step: s

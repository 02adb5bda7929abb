"""A recording looked at through a channel map, or through the one it suggests: what is which signal, and what is there for a controller."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.trial.within_reach import Lack, lacks
from replay.channels.channel_map import ChannelMap, Resolved, resolve
from replay.channels.recorded_unit import recorded_unit
from replay.formats.file_form import FileForm
from replay.open_recording import open_recording
from replay.suggestion.guessed_time import guessed_time_base
from replay.suggestion.inspection import Inspection, Progress, inspect_recording
from replay.suggestion.suggest_map import suggest
from replay.suggestion.suggest_weigh import UNSURE, Guess

_TIME_UNITS: Final = ("s", "ms", "us", "ns", "min", "h")
Place = tuple[int, str]  # group and column


@dataclass(frozen=True)
class Looked:
    """What a recording holds, what each column was taken for, what is lacking, and what is wrong with the map, in lines."""

    seen: Inspection
    taken: dict[Place, str]
    lacking: tuple[Lack, ...]
    guesses: tuple[Guess, ...] = ()
    wrong: tuple[str, ...] = ()
    found: int = 0


def look_and_suggest(path: Path, progress: Progress | None = None) -> Looked:
    """Look through a recording and suggest a map; what is unsure counts as lacking."""
    recording = open_recording(path, FileForm())
    if path.is_dir():  # its files are put in order by their stamps
        recording = open_recording(path, FileForm(), time=guessed_time_base(recording))
    seen = inspect_recording(recording, progress=progress)
    guesses = suggest(seen)
    taken = {(one.channel.group, one.channel.name): f"{one.target.label}, {one.grade}" for one in guesses}
    has = _corners((one.target.name, max(one.target.corner, 0)) for one in guesses if one.target.table == "signals" and one.grade != UNSURE)
    unsure = {one.target.name: f"unsure, {one.channel.name!r}" for one in guesses if one.grade == UNSURE}
    return Looked(seen, taken, lacks(has, unsure), guesses, found=len(taken))


def look_through(path: Path, channel_map: ChannelMap, progress: Progress | None = None) -> Looked:
    """Look through a recording by a channel map."""
    recording = open_recording(path, channel_map.form, time=channel_map.time)
    resolved, wrong = _resolved(channel_map, recording.groups, recording.name)
    unit = next((label for label in _TIME_UNITS if abs(recorded_unit(label).gain / channel_map.time.factor - 1.0) < 1e-9), "s")  # noqa: PLR2004
    times = {index: (column, unit) for index, column in enumerate(resolved.time_columns) if column}
    seen = inspect_recording(recording, times=times, rate=channel_map.time.rate, progress=progress)
    taken = {(entry.group, entry.column): entry.label for entry in resolved.found}
    taken |= {(resolved.mode_group, resolved.mode_column): "drive mode"} if resolved.mode_column else {}
    lines = [line for lines in resolved.missing.values() for line in lines]
    why = {channel.name: "its column isn't in the log" for channel in channel_map.channels}
    has = _there(channel_map, resolved)
    return Looked(seen, taken, lacks(has, why), (), (*wrong, *lines), len(resolved.found))


def _resolved(channel_map: ChannelMap, groups: Iterable[object], name: str) -> tuple[Resolved, tuple[str, ...]]:
    try:
        return resolve(channel_map, groups, name), ()  # type: ignore[arg-type]
    except BadInput as problem:
        lines = [str(one) for one in problem.problems] if isinstance(problem, SeveralBadInputs) else [str(problem)]
        return Resolved((), {}, ()), tuple(lines)


def _there(channel_map: ChannelMap, resolved: Resolved) -> dict[str, set[int]]:
    """Signals that come out, by corner: what an inertial unit is turned into needs all that it is made of."""
    has = _corners((entry.channel.name, entry.channel.corner) for entry in resolved.found)
    if channel_map.mounting is not None:
        made = {name: channel_map.mounting.made_from(name) for name in channel_map.mounting.needs}
        has = {name: corners for name, corners in has.items() if name not in made}
        mapped = {entry.channel.name for entry in resolved.found}
        has |= {name: {0} for name, parts in made.items() if mapped.issuperset(parts)}
    return has


def _corners(pairs: Iterable[tuple[str, int]]) -> dict[str, set[int]]:
    has: dict[str, set[int]] = {}
    for name, corner in pairs:
        has.setdefault(name, set()).add(corner)
    return has

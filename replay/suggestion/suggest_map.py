"""Which column is which signal: every pair weighed, the best pairing of all taken at once, and what the guesses say of each other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from dualduty.units import STANDARD_GRAVITY
from replay.suggestion.inspection import ChannelSeen, Inspection
from replay.suggestion.suggest_targets import targets
from replay.suggestion.suggest_weigh import Guess, weigh

_RIVAL: Final = 0.1  # of the score; closer than that and both are told
_LEVEL: Final = (0.7, 1.3)  # g; what an upright accelerometer says in the middle of a drive
_SPEEDS: Final = 0.3  # of their middle; speeds of the wheels of one vehicle
_TRAVELS: Final = 0.5  # of their middle; our choice: front and rear of one vehicle differ by less
_ENOUGH: Final = 3


def suggest(seen: Inspection) -> tuple[Guess, ...]:
    """The best pairing of targets and channels, in the order of a map; a target that nothing fits is left out."""
    table = [[weigh(target, entry) for entry in _usable(seen)] for target in targets()]
    chosen = _paired(table)
    with_rivals = [_with_rivals(guess, table, chosen) for guess in chosen]
    return tuple(_alike(_upright(_shared_units(with_rivals))))


def upward(guesses: Sequence[Guess]) -> str:
    """Which axis of the inertial unit points up, as a map says it: "z" as it should be, "-x", ...; "" where that can't be told."""
    forces = [guess for guess in guesses if guess.target.family == "force"]
    middles = {guess.target.name[-1]: guess.si(guess.channel.middle) / STANDARD_GRAVITY for guess in forces}
    level = [axis for axis, middle in middles.items() if _LEVEL[0] <= abs(middle) <= _LEVEL[1]]
    if len(level) != 1:
        return ""
    return level[0] if middles[level[0]] > 0.0 else f"-{level[0]}"


def _usable(seen: Inspection) -> list[ChannelSeen]:
    clocks = {(group.index, group.clock) for group in seen.groups if group.clock}
    return [entry for entry in seen.channels if not entry.text and not entry.twice and (entry.group, entry.name) not in clocks]


def _paired(table: list[list[Guess | None]]) -> list[Guess]:
    """The pairing with the largest sum of scores: optimal, not greedy."""
    from scipy.optimize import linear_sum_assignment

    if not table or not table[0]:
        return []
    scores = np.array([[guess.score + _faster(guess) if guess is not None else 0.0 for guess in row] for row in table])
    pairs = zip(*linear_sum_assignment(scores, maximize=True), strict=True)
    return [guess for row, column in pairs if (guess := table[row][column]) is not None]


def _faster(guess: Guess) -> float:
    """Of two channels that fit alike the faster one is taken."""
    return 1e-4 * math.log1p(guess.channel.rate) if guess.channel.rate > 0.0 else 0.0


def _with_rivals(guess: Guess, table: list[list[Guess | None]], chosen: list[Guess]) -> Guess:
    """Name the free channels that fit this target as well, and the free targets that this channel fits as well."""
    close = [one for row in table for one in row if one is not None and one is not guess and one.score >= guess.score - _RIVAL]
    taken = {id(one.channel) for one in chosen}
    filled = {one.target for one in chosen}
    channels = [one.channel.name for one in close if one.target == guess.target and id(one.channel) not in taken]
    meanings = [one.target.label for one in close if one.channel is guess.channel and one.target not in filled]
    look = (f"also possible: {', '.join(map(repr, channels[:3]))}",) if channels else ()
    ask = (f"may be {' or '.join(meanings[:3])} as well",) if meanings else ()
    return replace(guess, look=(*guess.look, *look), ask=(*guess.ask, *ask))


def _shared_units(guesses: list[Guess]) -> list[Guess]:
    """Where the log says no unit: the one that fits all of a family, or the one that another of the family says."""
    return [_with_unit(guess, [one for one in guesses if one.target.family == guess.target.family]) for guess in guesses]


def _with_unit(guess: Guess, family: list[Guess]) -> Guess:
    if not guess.fitting:
        return guess
    said = next((one.unit for one in family if not one.fitting and one.unit in guess.fitting), "")
    common = [label for label in guess.fitting if all(label in one.fitting for one in family if one.fitting)]
    if said:
        return replace(guess, unit=said, look=(*guess.look, f"no unit in the log; {said} as the others of its kind"))
    if len(common) == 1:
        return replace(guess, unit=common[0], look=(*guess.look, f"no unit in the log; {common[0]} fits its values"))
    return replace(guess, ask=(*guess.ask, f"no unit in the log; {' or '.join(common or guess.fitting)}?"))


def _upright(guesses: list[Guess]) -> list[Guess]:
    """An inertial unit whose z doesn't read 1 g is mounted another way, or is no vehicle's."""
    up = upward(guesses)
    z = next((guess for guess in guesses if guess.target.name == "specific_force_z"), None)
    if up == "z" or z is None:
        return guesses
    if up:
        text = f"in the middle of the log {up[-1]} reads {'-' if up[0] == '-' else ''}1 g: mounted another way, say [inertial_unit]"
        return [replace(one, ask=(*one.ask, text)) if one.target.family in ("force", "rate") else one for one in guesses]
    middle = z.si(z.channel.middle) / STANDARD_GRAVITY
    text = f"reads {middle:.2f} g in the middle of the log, expected 1 g"
    return [replace(one, look=(*one.look, text)) if one is z else one for one in guesses]


def _alike(guesses: list[Guess]) -> list[Guess]:
    """A wheel whose speed is not that of the others, a shaft that stands where no other does."""
    for name, apart, text in (("wheel_speed", _SPEEDS, "{0}"), ("shaft_travel", _TRAVELS, "{0}: turned round, or another zero?")):
        family = [one for one in guesses if one.target.name == name and not one.ask and np.isfinite(one.channel.middle)]
        usual = float(np.median([one.si(one.channel.middle) for one in family])) if len(family) >= _ENOUGH else np.nan
        odd = [one for one in family if abs(one.si(one.channel.middle) - usual) > apart * abs(usual)]
        told = text.format("its middle is far from that of the other corners")
        guesses = [replace(one, ask=(*one.ask, told)) if one in odd else one for one in guesses]
    return guesses

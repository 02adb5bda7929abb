"""How well one channel fits one target: by its name, by its unit, and by the values it takes."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from dualduty.units import STANDARD_GRAVITY, from_si
from replay.channels.recorded_unit import RecordedUnit, recorded_unit
from replay.suggestion.channel_words import said_by
from replay.suggestion.inspection import ChannelSeen
from replay.suggestion.suggest_names import called
from replay.suggestion.suggest_targets import Target

SURE: Final = "sure"
LIKELY: Final = "likely"  # stands in the map, with what speaks against it
UNSURE: Final = "unsure"  # stands in the map as a comment
_WEIGHTS: Final = (0.5, 0.3, 0.2)  # of name, unit and values; our choice: a name weighs as much as the rest
_SURE_FROM: Final = 0.85
_LIKELY_FROM: Final = 0.6
_LEVEL_UNIT: Final = (0.4, 2.0)  # g; middle of an upright accelerometer, wide enough to tell units apart
_STEERED: Final = 0.8  # rad; road wheels do not turn further
_LEAST_STROKE: Final = 0.002  # m; a travel that moves less is none, or is in another unit
# Recorded in something that a factor between units can't make into the signal: what the map must say in addition.
_BY_HAND: Final = {
    ("shaft_travel", "voltage"): "recorded in {0}: give the sensor's curve, e.g. curve = [[0.5, 0], [4.5, 300]]",
    ("brake", "pressure"): 'recorded in {0}: say unit = "1" and the scale at which full braking is 1',
    ("wheel_speed", "angular speed"): 'recorded in {0}: say unit = "m/s" and scale, the distance rolled per {0}',
    ("wheel_speed", "frequency"): 'recorded in {0}: say unit = "m/s" and scale, the distance rolled per {0}',
    ("steer_angle", "length"): "recorded in {0} of a rack: give its curve to the angle of the road wheels",
    ("applied_compression", "current"): "recorded in {0}: give the curve from current to duty",
    ("applied_rebound", "current"): "recorded in {0}: give the curve from current to duty",
}  # fmt: skip


@dataclass(frozen=True)
class Guess:
    """A target, the channel that is most likely it, its unit, and what speaks against it; `score` is 0 to 1."""

    target: Target
    channel: ChannelSeen
    unit: str
    score: float
    look: tuple[str, ...] = ()  # to be looked at
    ask: tuple[str, ...] = ()  # what the log alone can't tell
    fitting: tuple[str, ...] = field(default=(), repr=False)  # units that fit the values, where the log says none

    @property
    def grade(self) -> str:
        """How sure: SURE, LIKELY or UNSURE."""
        if self.ask or self.score < _LIKELY_FROM:
            return UNSURE
        return LIKELY if self.look or self.score < _SURE_FROM else SURE

    @property
    def doubt(self) -> str:
        """Why not sure, in words; empty where it is."""
        if self.grade == SURE:
            return ""
        return "; ".join((*self.ask, *self.look)) or f"name, unit and values fit by {100 * self.score:.0f} %"

    def si(self, recorded: float) -> float:
        """A recorded value in SI."""
        known = recorded_unit(self.unit)
        return recorded * known.gain + known.shift


def weigh(target: Target, seen: ChannelSeen) -> Guess | None:
    """A guess with its score; None where the name or the unit excludes it."""
    said = _said_unit(seen, target)
    words = said_by(seen.name)
    name = called(target.table, target.name, target.corner, replace(words, unit=words.unit or said))
    if not name:
        return None
    if said is None:
        return _unsaid(target, seen, name)
    if target.dimension in said.dimensions:
        return _scored(target, seen, said.label, (name, 1.0))
    by_hand = _BY_HAND.get((target.name, said.dimension))
    if by_hand is None:
        return None
    return Guess(target, seen, target.usual[0], _WEIGHTS[0] * name, ask=(by_hand.format(said.label),))


def _said_unit(seen: ChannelSeen, target: Target) -> RecordedUnit | None:
    """The unit the log says; None where it says none, or nothing that is known."""
    try:
        said = recorded_unit(seen.unit) if seen.unit.strip() else None
    except ValueError:
        return None
    bare = said is not None and said.dimension == "number" and said.gain == 1.0
    return None if bare and target.dimension != "number" else said


def _unsaid(target: Target, seen: ChannelSeen, name: float) -> Guess:
    """Without a unit in the log: those of the usual ones that the values fit."""
    fitting = tuple(label for label in target.usual if _fits(target, seen, recorded_unit(label)))
    if target.usual == ("1",):
        return _scored(target, seen, "1", (name, 1.0))
    weight = {0: 0.0, 1: 0.8}.get(len(fitting), 0.5)
    made = _scored(target, seen, (fitting or target.usual)[0], (name, weight))
    return Guess(target, seen, made.unit, made.score, made.look, made.ask, fitting or target.usual)


def _fits(target: Target, seen: ChannelSeen, known: RecordedUnit) -> bool:
    low, middle, high = (value * known.gain + known.shift for value in (seen.low, seen.middle, seen.high))
    if not target.low <= low <= high <= target.high:
        return False
    if target.name == "specific_force_z":
        return _LEVEL_UNIT[0] <= abs(middle) / STANDARD_GRAVITY <= _LEVEL_UNIT[1]
    if target.name == "shaft_travel":
        return high - low >= _LEAST_STROKE
    return not (target.usual == ("%", "1") and known.gain < 1.0 and seen.most <= 1.0 < 2.0 * seen.most)


def _scored(target: Target, seen: ChannelSeen, label: str, weighed: tuple[float, float]) -> Guess:
    values, look, ask = _values(target, seen, recorded_unit(label))
    score = float(np.dot(_WEIGHTS, (*weighed, values)))
    return Guess(target, seen, label, score, tuple(look), tuple(ask))


def _values(target: Target, seen: ChannelSeen, known: RecordedUnit) -> tuple[float, list[str], list[str]]:
    """How believable the values are, what to look at, and what to ask."""
    if not np.isfinite(seen.middle):
        return 0.0, [], ["holds no value"]
    low, high = (value * known.gain + known.shift for value in (seen.low, seen.high))
    ask = _steering(target, seen, max(abs(low), abs(high)))
    if not (target.low <= low and high <= target.high) and not ask:
        span = f"{low / known.gain:.4g} to {high / known.gain:.4g} {known.label}"
        ask.append(f"98 % of its values are {span}, expected {_expected(target, known)}: sign, offset or unit")
    if target.table == "states" and not set(seen.values or (2.0,)) <= {0.0, 1.0}:
        ask.append("expected 0 and 1 only")
    look = ["never changes"] if seen.least == seen.most else []
    return (0.2 if ask else 0.6 if look else 1.0), look, ask


def _expected(target: Target, known: RecordedUnit) -> str:
    return f"{(target.low - known.shift) / known.gain:.3g} to {(target.high - known.shift) / known.gain:.3g}"


def _steering(target: Target, seen: ChannelSeen, most: float) -> list[str]:
    """An angle of the steering wheel is not one of the road wheels."""
    if target.name != "steer_angle" or (most <= _STEERED and "steering wheel" not in said_by(seen.name).meanings):
        return []
    return [f"up to {from_si(most, 'deg'):.0f} deg: an angle of the steering wheel? say scale, 1 over the steering ratio"]

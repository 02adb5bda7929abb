"""How well the name of a column fits a signal: its words, corner and axis against what such a column is usually called."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Final

from replay.suggestion.channel_words import Said

_SIDES: Final = ("compression", "rebound")
_WEAK: Final = 0.6  # a name that leaves room for something else; our choice, as the penalties below
_POOR: Final = 0.3  # `gx` is a force by its name as much as a rate
_PENALTY: Final = 0.08  # for each word that is not known here
_MOST_PENALTY: Final = 0.24


def called(table: str, name: str, corner: int, said: Said) -> float:
    """How well a column's name fits a row of a map, 0 to 1; `corner` is -1 for the whole vehicle."""
    if corner >= 0 and said.corner != corner:
        return 0.0
    fit = _RULES[f"{table}.{name}"](said)
    return max(fit - min(_PENALTY * len(said.strange), _MOST_PENALTY), 0.0)


def _travel(said: Said) -> float:
    if said.meanings & {"duty", "command", "acceleration", "speed", "elsewhere", "pressure", "state", "hub", "steer", "rebound"}:
        return 0.0
    if "travel" not in said.meanings:
        return _WEAK * ("position" in said.meanings and said.corner is not None)
    return _WEAK if said.meanings & {"wheel", "compression"} else 1.0


def _force(axis: str, said: Said) -> float:
    felt = said.unit is not None and said.unit.dimension == "acceleration"  # `Lat G`
    if said.axis != axis or not (felt or said.meanings & {"acceleration", "gravities"}):
        return 0.0
    return float(not said.meanings & {"seat", "hub", "wheel", "pedal", "throttle", "elsewhere", "state", "roll", "pitch", "yaw", "command"})


def _rate(about: str, said: Said) -> float:
    if said.meanings & {"acceleration", "state", "elsewhere", "wheel", "steer", "command", "duty"}:
        return 0.0
    turns = said.unit is not None and said.unit.dimension == "angular speed"
    if about in said.meanings:
        return 0.0 if "angle" in said.meanings else 1.0 if "rate" in said.meanings or turns else _WEAK
    named = {"roll": "x", "pitch": "y", "yaw": "z"}[about] == said.axis and not said.meanings & {"roll", "pitch", "yaw", "speed"}
    sure = 1.0 if turns or "gravities" not in said.meanings else _POOR
    return sure * (named and "rate" in said.meanings)


def _wheel_speed(said: Said) -> float:
    if said.meanings & {"acceleration", "travel", "duty", "command", "elsewhere", "steer", "hub"}:
        return 0.0
    if "wheel speed" in said.meanings or said.meanings >= {"wheel", "speed"}:
        return 1.0
    return _WEAK * ("speed" in said.meanings and said.corner is not None)


def _steer(said: Said) -> float:
    return float("steer" in said.meanings and not said.meanings & {"rate", "speed", "elsewhere", "state", "pressure"})


def _brake(said: Said) -> float:
    if "brake" not in said.meanings or said.meanings & {"elsewhere", "state", "speed", "travel", "marker"}:
        return 0.0
    return _WEAK if said.corner is not None or said.meanings & {"front", "rear"} else 1.0


def _throttle(said: Said) -> float:
    if said.meanings & {"brake", "elsewhere", "state", "speed", "command"}:
        return 0.0
    return 1.0 if "throttle" in said.meanings else _WEAK * ("pedal" in said.meanings)


def _applied(side: str, said: Said) -> float:
    return _duty(side, said) * ("command" not in said.meanings)


def _commanded(side: str, said: Said) -> float:
    return _duty(side, said) * ("command" in said.meanings)


def _duty(side: str, said: Said) -> float:
    other = _SIDES[1 - _SIDES.index(side)]
    if side not in said.meanings or other in said.meanings or said.meanings & {"elsewhere", "speed", "pressure", "acceleration"}:
        return 0.0
    return 1.0 if said.meanings & {"duty", "command"} else _WEAK


def _trim(said: Said) -> float:
    return float("trim" in said.meanings and not said.meanings & {"brake", "steer", "elsewhere", "state"})


def _seat(said: Said) -> float:
    return float("seat" in said.meanings and said.axis in ("z", "") and bool(said.meanings & {"acceleration", "gravities"}))


def _hub(said: Said) -> float:
    if said.axis not in ("z", "") or not said.meanings & {"acceleration", "gravities"}:
        return 0.0
    return 1.0 if "hub" in said.meanings else _WEAK * ("wheel" in said.meanings)


def _state(name: str, said: Said) -> float:
    return (1.0 if "state" in said.meanings else _WEAK + 0.2) * (name in said.meanings)


def _marker(said: Said) -> float:
    return float("marker" in said.meanings)


_RULES: Final[dict[str, Callable[[Said], float]]] = {
    "signals.shaft_travel": _travel,
    "signals.wheel_speed": _wheel_speed,
    "signals.steer_angle": _steer,
    "signals.brake": _brake,
    "signals.throttle": _throttle,
    "signals.driver_trim": _trim,
    "signals.seat_specific_force_z": _seat,
    "signals.hub_specific_force_z": _hub,
    "marker.marker": _marker,
    **{f"signals.specific_force_{axis}": partial(_force, axis) for axis in "xyz"},
    **{f"signals.{about}_rate": partial(_rate, about) for about in ("roll", "pitch", "yaw")},
    **{f"signals.applied_{side}": partial(_applied, side) for side in _SIDES},
    **{f"commands.{side}": partial(_commanded, side) for side in _SIDES},
    **{f"states.{name}": partial(_state, name) for name in ("airborne", "landing", "cornering", "braking")},
}

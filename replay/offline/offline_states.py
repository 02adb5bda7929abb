"""When each state was true in a recorded drive, as someone sees it afterwards: with all of the log at hand, both ways in time.

    offline_states(log, car=None, states=(), window=600.0) -> list[Mark]

The definitions are those of docs/states.md, read off signals instead of the plant's truth: what a detector must guess at the moment is
looked at here from both sides. These are proposals for a person to judge, not truth. Nothing is taken from the strategies, so that a
detector is never held against itself.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.car import Car
from dualduty.errors import BadInput
from dualduty.signals import CORNERS
from dualduty.truth_gates import after, bridged, kept, stretches
from dualduty.truth_states import Limits
from replay.log import Log
from replay.marks.mark import OFFLINE, PROPOSED, Mark
from replay.offline.offline_ground import corrugation, rough_ground, smooth_ground, whoops
from replay.offline.offline_scene import LIGHT, Scene
from replay.offline.offline_windows import LENGTH, Window, windows

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]

LIMITS: Final = Limits()
LIGHT_WHEEL: Final = 0.25  # of its static load; ours: what a wheel's load is known to, see tests/replay/test_offline_states_validation.py
NOTHING: Final = 0.05  # of the weight; ours: so little is carried at least once in a flight
_FLICKER: Final = 0.02  # s; two flights apart by less are one
_SEAM: Final = 0.005  # s
_PEDAL: Final = 0.05  # s


@dataclass(frozen=True)
class _Told:
    """How a state is told: from which signals, and gates over the grid by place ("" or a role)."""

    needs: tuple[str, ...]
    gates: Callable[[Scene], Mapping[str, Gate]]
    needs_car: bool = False


def offline_states(log: Log, car: Car | None = None, states: Sequence[str] = (), window: float = LENGTH) -> list[Mark]:
    """Proposals for the states named, or for all that the log's signals tell, in order of time.

    `car` gives masses and travels; without it usual shares of the mass stand in, and what hangs on its travels is not told. A log longer
    than `window` [s] is looked at in parts, so that memory doesn't grow with it.
    """
    _refuse_unknown(states)
    marks = [mark for part in windows(log, car, window) for name in states or TOLD if tells(part.scene, name) for mark in _cut(part, name)]
    return _without_seams(sorted(marks, key=lambda mark: (mark.start, mark.state, mark.where)))


def _cut(window: Window, state: str) -> Iterator[Mark]:
    """What of a window's marks lies in the part that counts."""
    for mark in _marks(window.scene, state):
        if mark.start < window.end and mark.end > window.start:
            yield replace(mark, start=max(mark.start, window.start), end=min(mark.end, window.end))


def _without_seams(marks: Sequence[Mark]) -> list[Mark]:
    """Marks that meet where two windows do are one."""
    whole: list[Mark] = []
    last: dict[tuple[str, str], int] = {}
    for mark in marks:
        at = last.get((mark.state, mark.where))
        if at is not None and mark.start - whole[at].end <= _SEAM:
            whole[at] = replace(whole[at], end=max(whole[at].end, mark.end))
            continue
        last[mark.state, mark.where] = len(whole)
        whole.append(mark)
    return whole


def tells(scene: Scene, state: str) -> bool:
    """Whether a log has what a state is told from."""
    told = TOLD[state]
    return scene.has(*told.needs) and (scene.car is not None or not told.needs_car)


def gates_of(scene: Scene, state: str) -> dict[str, Gate]:
    """When a state was true on the scene's grid, (time,), by place."""
    told = TOLD[state]
    known = scene.known_all(told.needs)
    return {where: gate & known for where, gate in told.gates(scene).items()}


def _refuse_unknown(states: Sequence[str]) -> None:
    for name in states:
        if name not in TOLD:
            near = difflib.get_close_matches(name, TOLD, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"expected one of {', '.join(TOLD)}"
            raise BadInput(f"state {name}", f"is not one that is told afterwards; {hint}")


def _marks(scene: Scene, state: str) -> Iterator[Mark]:
    for where, gate in gates_of(scene, state).items():
        for first, last in stretches(gate):
            start, end = scene.start + first * scene.dt, scene.start + last * scene.dt
            yield Mark(state, start, end, where, note=_side(scene, state, first, last), origin=OFFLINE, status=PROPOSED)


def _side(scene: Scene, state: str, first: int, last: int) -> str:
    """Which way a turn went; a turn has no place of its own."""
    return ("left" if scene.lateral[first:last].mean() > 0 else "right") if state == "cornering" else ""


def _flight(scene: Scene, least: float) -> Gate:
    """Nothing is carried; a crest that leaves a tenth of the weight on the ground is none."""
    gate = kept(bridged(np.asarray(scene.load < LIGHT), _FLICKER, scene.dt), least, scene.dt)
    for first, last in stretches(gate):
        if scene.load[first:last].min() > NOTHING:
            gate[first:last] = False
    return gate


def _airborne(scene: Scene) -> Mapping[str, Gate]:
    return {"": _flight(scene, LIMITS.least_flight)}


def _landing(scene: Scene) -> Mapping[str, Gate]:
    return {"": after(_flight(scene, 0.0), LIMITS.flight_before_landing, LIMITS.landing_lasts, scene.dt)}


def _wheel_off(scene: Scene) -> Mapping[str, Gate]:
    flying = _flight(scene, 0.0)
    light = scene.wheel_load < LIGHT_WHEEL
    return _by_corner([kept(bridged(row | flying, _FLICKER, scene.dt), LIMITS.least_flight, scene.dt) for row in light])


def _by_corner(gates: Sequence[Gate]) -> dict[str, Gate]:
    return dict(zip(CORNERS, gates, strict=True))


def _turning(scene: Scene, side: float) -> Gate:
    return kept(side * scene.lateral >= LIMITS.turning, LIMITS.least_turn, scene.dt)


def _cornering(scene: Scene) -> Mapping[str, Gate]:
    return {"": _turning(scene, 1.0) | _turning(scene, -1.0)}


def _outer(scene: Scene) -> Mapping[str, Gate]:
    return {"left": _turning(scene, -1.0), "right": _turning(scene, 1.0)}


def _inner(scene: Scene) -> Mapping[str, Gate]:
    return {"left": _turning(scene, 1.0), "right": _turning(scene, -1.0)}


def _grounded(scene: Scene) -> Gate:
    """Neither in the air nor just down: what wheels say of speed is what the tyres do."""
    if not scene.has("shaft_travel", "specific_force_z"):
        return np.ones(scene.samples, dtype=bool)
    flying = _flight(scene, 0.0)
    return ~(flying | after(flying, 0.0, LIMITS.landing_lasts, scene.dt))


def _braking(scene: Scene) -> Mapping[str, Gate]:
    pedal = kept(bridged(scene.row("brake") > LIMITS.pedal, LIMITS.pause, scene.dt), _PEDAL, scene.dt)
    if not scene.has("wheel_speed"):
        return {"": pedal}
    slowing = (scene.forward <= -LIMITS.deceleration) & _grounded(scene)
    return {"": pedal | kept(slowing, LIMITS.least_felt, scene.dt)}


def _accelerating(scene: Scene) -> Mapping[str, Gate]:
    pedal = kept(bridged(scene.row("throttle") > LIMITS.throttle, LIMITS.pause, scene.dt), LIMITS.least_felt, scene.dt)
    if not scene.has("wheel_speed"):
        return {"": pedal}
    gaining = (scene.forward >= LIMITS.acceleration) & _grounded(scene)
    return {"": pedal | kept(gaining, LIMITS.least_felt, scene.dt)}


def _slow(scene: Scene, below: float) -> Mapping[str, Gate]:
    return {"": kept(np.abs(scene.speed) <= below, LIMITS.least_slow, scene.dt)}


def _bump(scene: Scene) -> Mapping[str, Gate]:
    """From shortly before the bump rubber is touched until it is let go."""
    contact = np.reshape(scene.known_car.bump_contact, (-1, 1))
    lead = round(LIMITS.stop_lead / scene.dt)
    gates = []
    for row in scene.signals["shaft_travel"] > contact:
        gate = np.zeros_like(row)
        for first, last in stretches(bridged(row, _FLICKER, scene.dt)):
            gate[max(first - lead, 0) : last] = True
        gates.append(gate)
    return _by_corner(gates)


_VERTICAL: Final = ("shaft_travel", "specific_force_z")
_TURN: Final = ("yaw_rate", "wheel_speed")
_GROUND: Final = (*_VERTICAL, "wheel_speed")
TOLD: Final[Mapping[str, _Told]] = {
    "airborne": _Told(_VERTICAL, _airborne),
    "landing": _Told(_VERTICAL, _landing),
    "wheel_off": _Told(_VERTICAL, _wheel_off, needs_car=True),
    "bump_approach": _Told(("shaft_travel",), _bump, needs_car=True),
    "cornering": _Told(_TURN, _cornering),
    "cornering_outer": _Told(_TURN, _outer),
    "cornering_inner": _Told(_TURN, _inner),
    "braking": _Told(("brake",), _braking),
    "accelerating": _Told(("throttle",), _accelerating),
    "whoops": _Told(_GROUND, lambda scene: {"": whoops(scene)}),
    "corrugation": _Told(_GROUND, lambda scene: {"": corrugation(scene)}),
    "rough_ground": _Told(_GROUND, lambda scene: {"": rough_ground(scene, LIMITS)}),
    "smooth_ground": _Told(_GROUND, lambda scene: {"": smooth_ground(scene, LIMITS)}),
    "standstill": _Told(("wheel_speed",), lambda scene: _slow(scene, LIMITS.still)),
    "walking_pace": _Told(("wheel_speed",), lambda scene: _slow(scene, LIMITS.walking)),
}

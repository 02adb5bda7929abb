"""What a picture of an event shows: the signals that the state's detector reads, around it, with the level where it has one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.discovery import PlugIns
from dualduty.report.event_picture import Moment, Panel
from dualduty.signals import SIGNALS
from dualduty.trace import Trace, TraceChunk
from dualduty.units import unit
from replay.check.intervals import ActiveStretches
from replay.check.result import Event

Array = NDArray[np.float64]
AROUND: Final = 0.5  # s before and after an event
MOST_PANELS: Final = 2


@dataclass(frozen=True)
class View:
    """One panel: a signal or quantity, or the product of two; the unit it is said in; and the parameter that is its level.

    `sign` is -1 where the detector looks at the negative, 0 where it looks at both.
    """

    names: tuple[str, ...]
    title: str = ""
    said: str = ""
    level: str = ""
    sign: float = 1.0


_TRAVEL: Final = View(("shaft_travel",))
_FORCE: Final = View(("specific_force_z",))
_TURN: Final = View(("yaw_rate", "vehicle_speed"), "yaw rate times speed", "g", "Cornering.on", 0.0)
_SPEED: Final = View(("vehicle_speed",), said="km/h")
VIEWS: Final[dict[str, tuple[View, ...]]] = {
    "airborne": (_FORCE, _TRAVEL),
    "wheel_off": (_FORCE, _TRAVEL),
    "landing": (View(("specific_force_z",), level="Landing.on_force"), _TRAVEL),
    "cornering_likely": (View(("steer_angle",)), View(("yaw_rate", "vehicle_speed"), "yaw rate times speed", "g", "", 0.0)),
    "cornering": (_TURN, View(("steer_angle",))),
    "braking": (View(("brake",), level="Braking.on_demand"), View(("specific_force_x",), level="Braking.on_deceleration", sign=-1.0)),
    "accelerating": (
        View(("throttle",), level="Accelerating.on_demand"),
        View(("specific_force_x",), level="Accelerating.on_acceleration"),
    ),
    "standstill": (View(("vehicle_speed",), said="km/h", level="Standstill.on_speed"),),
    "walking_pace": (View(("vehicle_speed",), said="km/h", level="WalkingPace.on_speed"),),
    "side_slope": (View(("ground_bank",), said="deg", level="SideSlope.on_bank", sign=0.0), _TRAVEL),
    "whoops": (_TRAVEL, _SPEED),
    "corrugation": (_TRAVEL, _SPEED),
    "rough": (_TRAVEL, _SPEED),
    "smooth": (_TRAVEL, _SPEED),
    "bump": (_TRAVEL,),
    "droop": (_TRAVEL,),
}


@dataclass(frozen=True)
class Wanted:
    """An event to be drawn: what it is called, why (missed, lost, false, ...), a line beneath, and other marks nearby."""

    event: Event
    kind: str
    under: str = ""
    near: tuple[Event, ...] = ()

    @property
    def span(self) -> tuple[float, float]:
        """What is shown, in seconds since the log's first stamp."""
        event = self.event
        ends = [time for time in (event.mark_end, event.detected_end) if not np.isnan(time)]
        return (event.start - AROUND, max(ends) + AROUND)


def moments_of(trace: Trace, wanted: Sequence[Wanted], calibration: Calibration, plug_ins: PlugIns) -> list[Moment]:
    """A moment for each wanted event, cut out of one pass over the trace; one that lies in no tick is left out."""
    cuts: list[list[tuple[Array, TraceChunk]]] = [[] for _ in wanted]
    for chunk in trace:
        time: Array = np.asarray((chunk.start + np.arange(chunk.ticks)) * trace.header.dt, dtype=float)
        for pieces, one in zip(cuts, wanted, strict=True):
            first, last = (int(place) for place in np.searchsorted(time, one.span))
            if last > first:
                pieces.append((time[first:last], _cut(chunk, first, last, one.event.state)))
    views = _Views(calibration, plug_ins)
    return [_moment(one, pieces, views, trace.header.dt) for one, pieces in zip(wanted, cuts, strict=True) if pieces]


def _cut(chunk: TraceChunk, first: int, last: int, state: str) -> TraceChunk:
    """Copies of what a picture may need of some ticks, so that the chunk itself can go."""

    def part(values: Mapping[str, Array]) -> dict[str, Array]:
        return {name: value[:, first:last, :1].copy() for name, value in values.items()}

    states = {state: chunk.states[state][:, first:last, :1].copy()}
    empty: dict[str, Array] = {}
    return TraceChunk(
        chunk.start + first, part(chunk.signals), empty, part(chunk.quantities), states, empty, empty, empty, {}, {},
        chunk.mode[:, first:last, :1].copy(), chunk.running[:, first:last, :1].copy(),
    )  # fmt: skip


def _moment(one: Wanted, pieces: Sequence[tuple[Array, TraceChunk]], views: _Views, dt: float) -> Moment:
    event = one.event
    time = np.concatenate([piece[0] for piece in pieces])
    held = {name: np.concatenate([piece[1].signals.get(name, piece[1].quantities.get(name)) for piece in pieces], axis=1)[:, :, 0]
            for name in (*pieces[0][1].signals, *pieces[0][1].quantities)}  # fmt: skip
    stretches = ActiveStretches(dt)
    stretches.add(np.asarray(np.concatenate([piece[1].states[event.state] for piece in pieces], axis=1)[:, :, 0].max(axis=0) > 0))
    active = tuple((start + float(time[0]), end + float(time[0])) for start, end in stretches.end())
    mark = None if np.isnan(event.mark_start) else (event.mark_start, event.mark_end)
    alone = (event.detected_start, event.detected_end) if mark is None else None
    near = tuple((other.mark_start, other.mark_end) for other in one.near)
    panels = views.panels(event.state, held, int(pieces[0][1].mode.flat[0]))
    return Moment(
        f"{one.kind}: {event.name}".replace("_", " "), one.under, one.kind, time, panels, active, mark, event.margins, near, alone
    )


class _Views:
    """Which panels a state gets, with the calibration's own levels."""

    def __init__(self, calibration: Calibration, plug_ins: PlugIns) -> None:
        self.calibration, self.plug_ins = calibration, plug_ins
        classes = (plug_ins.by_name[name] for name in calibration.suppliers)
        self.supplier = {given.name: found for found in classes for given in found.gives}

    def panels(self, state: str, held: Mapping[str, Array], mode: int) -> tuple[Panel, ...]:
        """Panels of what is there, at most two."""
        chosen = next((views for name, views in VIEWS.items() if state.startswith(name)), None)
        if chosen is None or not all(name in held for view in chosen for name in view.names):
            found = self.supplier.get(state)
            read = found.reads if found else ()
            chosen = tuple(View((name,)) for name in read if name in held) or tuple(View((name,)) for name in list(held)[:1])
        return tuple(self._panel(state, view, held, mode) for view in chosen[:MOST_PANELS])

    def _panel(self, state: str, view: View, held: Mapping[str, Array], mode: int) -> Panel:
        said = view.said or self._said(view.names[0])
        values = np.prod([held[name] if len(view.names) == 1 else held[name][:1] for name in view.names], axis=0)
        factor = unit(said).factor if said else 1.0
        level = self._level(state, view, mode)
        signs = (1.0, -1.0) if view.sign == 0.0 else (view.sign,)
        levels = () if level is None else tuple(sign * level / factor for sign in signs)
        return Panel(view.title or view.names[0].replace("_", " "), said, np.asarray(values / factor), levels)

    def _said(self, name: str) -> str:
        if name in SIGNALS:
            return SIGNALS[name].said
        given = self.plug_ins.given.get(name)
        return given.unit if given is not None else "1"

    def _level(self, state: str, view: View, mode: int) -> float | None:
        """The calibrated value of the level, where the state comes from the class that the view was made for."""
        name, _, parameter = view.level.partition(".")
        found = self.supplier.get(state)
        settings = self.calibration.settings.get(f"detectors.{name}", {})
        if not parameter or found is None or found.name != name or parameter not in settings:
            return None
        return float(settings[parameter].values[mode, 0])

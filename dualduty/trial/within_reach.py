"""What a log lacks, and which laws and detectors that stops: each traced through all that it reads."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from dualduty.calibration.model import Calibration
from dualduty.discovery import Found, PlugIns
from dualduty.signals import CONTROLLER_SIGNALS, CORNERS, SIDES, SIGNALS
from strategies.dependence import Needs, layer_needs, needs_of, spared
from strategies.gates import EVERY, THIS_CORNER

NO_COLUMN: Final = "has no column"
_STAND_IN: Final = tuple(f"applied_{side}" for side in SIDES)  # a logged command, one tick late, stands for them, or the rest value

Part = tuple[str, str, Needs, set[str]]  # name, what it can't, what it needs, all that it reads


@dataclass(frozen=True)
class Lack:
    """A signal that a log doesn't have, at which corners, and why; no corner is named for one of the whole vehicle."""

    name: str
    corners: tuple[int, ...]
    why: str = NO_COLUMN

    def __str__(self) -> str:
        return f"{self.said} ({self.why})"

    @property
    def said(self) -> str:
        """Signal, and its corners where not all are lacking: `shaft_travel rear_left`."""
        some = 0 < len(self.corners) < len(CORNERS)
        return f"{self.name} {', '.join(CORNERS[corner] for corner in self.corners)}" if some else self.name

    @property
    def whole(self) -> bool:
        """True when nothing of the signal is there."""
        return len(self.corners) in (0, len(CORNERS))


def lacks(has: Mapping[str, Iterable[int]], why: Mapping[str, str] | None = None) -> tuple[Lack, ...]:
    """What is lacking of the controller's signals; `has` names corners that are there, (0,) for one of the whole vehicle."""
    found = []
    for signal in CONTROLLER_SIGNALS:
        there = set(has.get(signal.name, ()))
        absent = tuple(corner for corner in range(signal.corners) if corner not in there)
        if absent:
            found.append(Lack(signal.name, absent if signal.corners > 1 else (), (why or {}).get(signal.name, NO_COLUMN)))
    return tuple(found)


def stopped(lacking: Iterable[Lack], plug_ins: PlugIns, calibration: Calibration | None = None) -> list[str]:
    """What can't do its work: a line for all detectors or laws that want the same, a last one for what goes on with less."""
    missing = {lack.name: lack for lack in lacking if lack.name not in _STAND_IN}
    givers = _givers(plug_ins, calibration)
    wanting: dict[str, list[str]] = {}
    goes_on: list[str] = []
    spared_by: dict[str, None] = {}
    for name, cant, needs, reads in _parts(plug_ins, givers, calibration):
        stops = [lack for signal, lack in missing.items() if signal in needs and (lack.whole or needs[signal] != EVERY)]
        spares = [lack.said for signal, lack in missing.items() if signal in reads]
        if stops:
            wanting.setdefault(f"{cant}{_where(stops, needs)} without {_told(stops)}", []).append(name)
        elif spares:
            goes_on.append(name)
            spared_by |= dict.fromkeys(spares)
    lines = [f"{'; '.join(names)}: {want}" for want, names in wanting.items()]
    some = "one or more of " if len(spared_by) > 1 else ""
    return lines + ([f"with less to go by, for want of {some}{', '.join(spared_by)}: {'; '.join(goes_on)}"] if goes_on else [])


def _where(stops: Iterable[Lack], needs: Needs) -> str:
    """At which corners, where only these are lost."""
    if any(lack.whole or needs[lack.name] != THIS_CORNER for lack in stops):
        return ""
    corners = sorted({corner for lack in stops for corner in lack.corners})
    return f" at {', '.join(CORNERS[corner] for corner in corners)}"


def _givers(plug_ins: PlugIns, calibration: Calibration | None) -> dict[str, Found]:
    """What gives each name: of the calibration's suppliers first, then whatever gives it."""
    chosen = [plug_ins.by_name[name] for name in calibration.suppliers] if calibration is not None else []
    return {given.name: found for found in (*reversed(tuple(plug_ins.by_name.values())), *chosen) for given in found.gives}


def _parts(plug_ins: PlugIns, givers: Mapping[str, Found], calibration: Calibration | None) -> Iterable[Part]:
    found = plug_ins.by_name.values() if calibration is None else [plug_ins.by_name[name] for name in calibration.suppliers]
    for detector in (entry for entry in found if entry.kind == "detector"):
        states = ", ".join(given.name for given in detector.gives if given.is_state)
        yield states, "can't tell", spared(detector, needs_of(detector.reads, givers)), _all_signals(detector.reads, givers)
    if calibration is None:
        for law in (entry for entry in found if entry.kind == "law"):
            yield f"law {law.name}", "can't act", spared(law, needs_of(law.reads, givers)), _all_signals(law.reads, givers)
        return
    for plan in calibration.layers:
        laws = [plug_ins.by_name[name] for name in plan.laws]
        reads = [*plan.when, *plan.unless, *(name for law in laws for name in law.reads)]
        yield f"layer {plan.name!r} ({', '.join(plan.laws)})", "stays closed", layer_needs(plan, laws, givers), _all_signals(reads, givers)


def _all_signals(reads: Iterable[str], givers: Mapping[str, Found]) -> set[str]:
    """Every signal that something reads, through whatever gives what it reads."""
    seen: set[str] = set()
    waiting = list(reads)
    while waiting:
        name = waiting.pop()
        if name not in seen:
            seen.add(name)
            waiting += [] if name in SIGNALS else givers[name].reads
    return {name for name in seen if name in SIGNALS}


def _told(lacking: Iterable[Lack]) -> str:
    return ", ".join(map(str, lacking))

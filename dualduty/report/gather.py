"""One pass over a trace that leaves just what the pictures of some of its cases need."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.report.bins import MOST_BINS, MOST_CELLS, Bins, Envelope
from dualduty.report.look import in_said, said_unit
from dualduty.signals import SIDES
from dualduty.trace import Array, Header, Trace, TraceChunk


@dataclass(frozen=True)
class Wanted:
    """One curve of the pictures: where it may be found, best place first, each with its title and unit."""

    key: str
    places: tuple[tuple[str, str, str, str], ...]  # field of the chunk, name in it, title, unit said


WANTED: Final = (
    Wanted("speed", (
        ("truth", "speed", "speed", "km/h"),
        ("quantities", "vehicle_speed", "speed, estimated", "km/h"),
        ("signals", "wheel_speed", "wheel speed, all wheels", "km/h"),
    )),
    Wanted("travel", (
        ("truth", "true_travel", "shaft travel", "mm"),
        ("signals", "shaft_travel", "shaft travel", "mm"),
    )),
    Wanted("roll", (
        ("truth", "roll", "roll angle, right side down +", "deg"),
        ("quantities", "suspension_roll", "suspension roll, right side down +", "deg"),
        ("signals", "roll_rate", "roll rate, right side down +", "deg/s"),
    )),
    Wanted("pitch", (
        ("truth", "pitch", "pitch angle, nose down +", "deg"),
        ("quantities", "suspension_pitch", "suspension pitch, nose down +", "deg"),
        ("signals", "pitch_rate", "pitch rate, nose down +", "deg/s"),
    )),
    Wanted("vertical", (
        ("truth", "seat_acceleration_z", "vertical acceleration at the seat", "g"),
        ("truth", "body_acceleration_z", "vertical acceleration of the body", "g"),
        ("signals", "specific_force_z", "vertical specific force of the body", "g"),
    )),
)  # fmt: skip


@dataclass(frozen=True)
class Curve:
    """Something to draw over time, in the unit people say.

    time : (point,) array
        [s]
    values : (row, point) array
        One row per corner, or one for the vehicle. [unit in `said`]
    """

    title: str
    said: str
    time: Array
    values: Array


@dataclass(frozen=True)
class Strip:
    """Something with few values, per bin of equal width: active states, deciding layers, flags.

    edges : (bin + 1,) array
        [s]
    values : (row, bin) array
    """

    edges: Array
    values: NDArray[Any]


@dataclass(frozen=True)
class Gathered:
    """All that the pictures of one case show."""

    label: str
    name: str
    source: str
    driven_by: str
    stamp: str
    layers: tuple[str, ...]
    modes: tuple[str, ...]
    curves: dict[str, Curve]
    duty: dict[str, Curve]
    layer: dict[str, Strip]
    flags: dict[str, Strip]
    states: dict[str, Strip]
    mode: Strip

    @property
    def span(self) -> tuple[float, float]:
        """First and last time of the case. [s]"""
        edges = self.mode.edges
        return (float(edges[0]), float(edges[-1])) if edges.size > 1 else (0.0, 1.0)

    @property
    def cell(self) -> float:
        """Time that one cell of a strip stands for. [s]"""
        return float(self.mode.edges[1] - self.mode.edges[0]) if self.mode.edges.size > 1 else 0.0


class _CaseFold:
    """Envelopes and bins of one case while the chunks go by."""

    def __init__(self, header: Header, case: int, window: tuple[float, float], most: int) -> None:
        self.header, self.case, self.window, self.most = header, case, window, most
        self.start: int | None = None
        self.places: dict[str, tuple[str, str, str, str]] = {}
        self.envelopes: dict[str, Envelope] = {}
        self.bins: dict[tuple[str, str], Bins] = {}
        self.mode = Bins(np.maximum, MOST_CELLS)

    def take(self, chunk: TraceChunk) -> None:
        first, last = self._ticks(chunk)
        if last <= first:
            return
        if self.start is None:
            self.start = chunk.start + first
            self._choose(chunk)
        for key, (kind, name, _, _) in self.places.items():
            values = getattr(chunk, kind)[name]
            ratio = values.shape[1] // chunk.ticks
            self.envelopes[key].take(values[:, first * ratio : last * ratio, self.case])
        for (kind, name), bins in self.bins.items():
            bins.take(getattr(chunk, kind)[name][:, first:last, self.case])
        self.mode.take(chunk.mode[:, first:last, self.case])

    def _ticks(self, chunk: TraceChunk) -> tuple[int, int]:
        """Ticks inside the window, up to where a padded section ends."""
        running = np.flatnonzero(chunk.running[0, :, self.case] > 0.0)
        last = int(running[-1]) + 1 if running.size else 0
        dt = self.header.dt
        low = int(np.ceil(max(self.window[0] / dt - 1e-6, 0.0))) - chunk.start
        high = last if not np.isfinite(self.window[1]) else int(np.floor(self.window[1] / dt + 1e-6)) + 1 - chunk.start
        return max(low, 0), min(last, high)

    def _choose(self, chunk: TraceChunk) -> None:
        for wanted in WANTED:
            place = next((p for p in wanted.places if p[1] in getattr(chunk, p[0])), None)
            if place:
                self.places[wanted.key] = place
        for side in SIDES:
            self.places[side] = ("duty", side, side, "%")
            self.bins["layer", side] = Bins(np.maximum, MOST_CELLS)
            self.bins["flags", side] = Bins(np.bitwise_or, MOST_CELLS)
        for name in self.header.states:
            if name in chunk.states:
                self.bins["states", name] = Bins(np.fmax, MOST_CELLS)
        self.envelopes = {key: Envelope(self.most) for key in self.places}

    def _curve(self, key: str) -> Curve:
        kind, name, title, said = self.places[key]
        dt = self.header.truth_dt if kind == "truth" else self.header.dt
        time, values = self.envelopes[key].points(dt, (self.start or 0) * self.header.dt)
        said = said_unit(name, said)
        return Curve(title, said, time, in_said(values, said))

    def _strip(self, bins: Bins) -> Strip:
        values = bins.result()
        return Strip(((self.start or 0) + bins.width * np.arange(values.shape[1] + 1)) * self.header.dt, values)

    def _strips(self, kind: str) -> dict[str, Strip]:
        return {name: self._strip(bins) for (its_kind, name), bins in self.bins.items() if its_kind == kind}

    def result(self) -> Gathered:
        header, case = self.header, self.header.cases[self.case]
        curves = {key: self._curve(key) for key in self.places}
        return Gathered(
            label=f"{case.section} · {case.mode}", name=case.candidate, source=header.source, driven_by=header.driven_by,
            stamp=header.stamp, layers=header.layers, modes=header.modes,
            curves={key: curve for key, curve in curves.items() if key not in SIDES},
            duty={key: curve for key, curve in curves.items() if key in SIDES},
            layer=self._strips("layer"), flags=self._strips("flags"), states=self._strips("states"), mode=self._strip(self.mode),
        )  # fmt: skip


def gather(
    trace: Trace, cases: Sequence[int] | None = None, window: tuple[float, float] = (0.0, float("inf")), most: int = MOST_BINS
) -> list[Gathered]:
    """Fold a trace once for the pictures of some cases (default: all); `window` in seconds. Memory doesn't grow with the log."""
    chosen = range(len(trace.header.cases)) if cases is None else cases
    folds = [_CaseFold(trace.header, case, window, most) for case in chosen]
    for chunk in trace:
        for fold in folds:
            fold.take(chunk)
    return [fold.result() for fold in folds]

"""The trade-off of the flight detector: latency against false alarms, over its own thresholds and delays.

Open loop: what the controller saw in the recorded drives is replayed through many candidate rows at once, cases being
candidate x drive. Candidates differ in values only. The vehicle moved as the recorded calibration made it move; states
opened earlier or later would have changed that a little.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.calibration.settings import with_value
from dualduty.discovery import PlugIns
from dualduty.errors import BadInput
from dualduty.study.detection_events import CLASSES, Events
from dualduty.study.drives import Drive
from dualduty.study.truth import TruthLine
from dualduty.trial.clock import Progress, part_of
from dualduty.units import from_si, unit
from strategies.controller import Strategy

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]

PLACE: Final = "detectors.Airborne"
STATES: Final = ("airborne_likely", "airborne")
LEAST_FLIGHT: Final = CLASSES[1][0]  # s; shorter hops stand apart
CASES: Final = 640  # candidate rows x drives at once
CHUNK: Final = 400  # ticks


@dataclass(frozen=True)
class Family:
    """Candidates that belong together: `line` names one curve of the picture, `along` runs along it. SI."""

    title: str
    state: str
    line: tuple[str, tuple[float, ...]]
    along: tuple[str, tuple[float, ...]]

    def rows(self) -> Iterator[tuple[float, float]]:
        """Every pair of values, curve by curve."""
        return product(self.line[1], self.along[1])


_PRE_ARM: Final = ("likely_evidence", (0.0, 0.006, 0.012, 0.02, 0.035, 0.06))
_CONFIRMED: Final = ("sure_evidence", (0.0, 0.013, 0.026, 0.04, 0.06, 0.09))
FAMILIES: Final = (
    Family("pre-arm", "airborne_likely", ("likely_share", (0.1, 0.15, 0.25, 0.35)), _PRE_ARM),
    Family("pre-arm", "airborne_likely", ("smooth_hz", (8.0, 12.0, 20.0, 30.0, 45.0)), _PRE_ARM),
    Family("confirmed", "airborne", ("sure_share", (0.04, 0.08, 0.12, 0.2)), _CONFIRMED),
    Family("confirmed", "airborne", ("slow_worth", (0.2, 0.4, 1.0)), _CONFIRMED),
)


@dataclass(frozen=True)
class Point:
    """What one candidate row gave for one state, flights of `LEAST_FLIGHT` and more; latencies signed. [s]"""

    state: str
    values: Mapping[str, float]
    flights: int
    found: int
    median: float
    p90: float
    hops_found: int
    hops: int
    false_per_minute: float


@dataclass(frozen=True, eq=False)
class TradeOff:
    """The curve points by family, where the calibration itself stands, and the unit in which each parameter is said."""

    families: tuple[tuple[Family, tuple[Point, ...]], ...]
    baseline: dict[str, Point]
    units: dict[str, str]
    drives: int
    minutes: float

    def said(self, name: str, value: float) -> str:
        """A value in words, with its unit."""
        label = unit(self.units[name]).label
        return f"{from_si(value, self.units[name]):.3g}{'' if label == '1' else f' {label}'}"


def trade_off(drives: Sequence[Drive], calibration: Calibration, plug_ins: PlugIns, progress: Progress) -> TradeOff:
    """Replay every family of candidates over recorded drives."""
    bare = _bare(calibration)
    families = [family for family in FAMILIES if {family.line[0], family.along[0]} <= set(bare.settings[PLACE])]
    rows = [(family, pair) for family in families for pair in family.rows()]
    made = [bare, *(_candidate(bare, {family.line[0]: pair[0], family.along[0]: pair[1]}) for family, pair in rows)]
    lines = [[line for line in drive.lines if line.state in STATES] for drive in drives]
    tallies = _replayed(made, drives, lines, plug_ins, progress)
    points: dict[int, list[Point]] = {number: [] for number in range(len(families))}
    for (family, pair), events in zip(rows, tallies[1:], strict=True):
        points[families.index(family)].append(_point(family.state, {family.line[0]: pair[0], family.along[0]: pair[1]}, events))
    baseline = {state: _point(state, {}, tallies[0]) for state in STATES}
    minutes = sum(drive.length for drive in drives) / 60.0
    units = {name: value.declaration.said for name, value in bare.settings[PLACE].items()}
    joined = tuple((family, tuple(points[number])) for number, family in enumerate(families))
    return TradeOff(joined, baseline, units, len(drives), minutes)


def _bare(calibration: Calibration) -> Calibration:
    """The calibration without the layers above its base: they don't act on the states, and cost time."""
    if PLACE not in calibration.settings:
        raise BadInput(calibration.file, f"has no {PLACE}: expected a strategy with the flight detector in it")
    return replace(calibration, layers=calibration.layers[:1])


def _candidate(bare: Calibration, values: Mapping[str, float]) -> Calibration:
    settings = bare.settings[PLACE]
    for name, value in values.items():
        settings = with_value(settings, name, np.asarray(value))
    label = ", ".join(f"{name} {value:g}" for name, value in values.items())
    return replace(bare, name=label, settings={**bare.settings, PLACE: settings})


def _replayed(
    made: Sequence[Calibration], drives: Sequence[Drive], lines: Sequence[Sequence[TruthLine]], plug_ins: PlugIns, progress: Progress
) -> list[Events]:
    """Events of every candidate, over all drives; drives of like length go together."""
    events = [Events() for _ in made]
    together = max(1, CASES // len(made))
    order = sorted(range(len(drives)), key=lambda number: drives[number].ticks)
    for start in range(0, len(order), together):
        batch = [drives[number] for number in order[start : start + together]]
        gates = _states(made, batch, plug_ins)
        for row, candidate in enumerate(events):
            for place, number in enumerate(order[start : start + together]):
                given = {state: gates[state][None, : drives[number].ticks, row * len(batch) + place] for state in STATES}
                candidate.add(replace(drives[number], states=given), lines[number])
        part_of(progress, (start, len(batch)), len(order))(1.0)
    return events


def _states(made: Sequence[Calibration], drives: Sequence[Drive], plug_ins: PlugIns) -> dict[str, Gate]:
    """States by (tick, case), cases being candidate x drive; a short drive is held at its last sample."""
    ticks = max(drive.ticks for drive in drives)
    sensed = np.stack([np.pad(drive.sensed, ((0, 0), (0, ticks - drive.ticks)), mode="edge") for drive in drives], axis=2)
    strategy = Strategy(list(made), [row for row in range(len(made)) for _ in drives], plug_ins, drives[0].dt)
    modes = np.tile(np.array([drive.mode for drive in drives], np.int16), len(made))
    memory = strategy.start()
    parts: list[dict[str, Gate]] = []
    for start in range(0, ticks, CHUNK):
        part = np.ascontiguousarray(np.tile(sensed[:, start : start + CHUNK], (1, 1, len(made))))
        output = strategy.run(part, np.broadcast_to(modes, (1, part.shape[1], len(modes))), memory)
        parts.append({state: output.states[state][0] > 0 for state in STATES})
    return {state: np.concatenate([part[state] for part in parts]) for state in STATES}


def _point(state: str, values: Mapping[str, float], events: Events) -> Point:
    mine = [one for one in events.outcomes if one.state == state]
    real = [one for one in mine if one.size >= LEAST_FLIGHT]
    hops = [one for one in mine if one.size < LEAST_FLIGHT]
    late = [one.onset for one in real if one.kind == "found"]
    median, p90 = (float(np.median(late)), float(np.percentile(late, 90))) if late else (np.nan, np.nan)
    found = sum(one.kind != "missed" for one in real)
    tally = events.tallies[state]
    return Point(state, values, len(real), found, median, p90, sum(one.kind != "missed" for one in hops), len(hops), tally.false_per_minute)

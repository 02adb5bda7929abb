"""Latency against false alarms of the flight detector, tuned quickly: drive once, replay its chain for many settings.

`python -m tests.bench.flight_study` drives the section library, faster variants of its jumps, and both with cars that are not the nominal
one, closed loop with the shipped baseline (some four minutes), and prints a line for each row of `SETTINGS`, with all travels and with
one lost. A flight is all four wheel loads below 1 N: 200 ms and more must be found; 30 to 120 ms are hops, counted apart.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.read import read_calibration
from dualduty.car import Car, read_car
from dualduty.contract import Chunk
from dualduty.discovery import PlugIns, discover
from dualduty.memory import Memory
from dualduty.shipped import shipped_calibrations
from dualduty.signals import SIGNALS
from dualduty.trace import Case
from dualduty.trial.cars import read_cars
from dualduty.trial.clock import DT
from plant.closed_loop import drive
from plant.course import Course
from plant.section import read_section
from plant.sensor_file import read_sensors
from plant.sensor_offsets import with_offsets
from plant.sensors import Sensors
from strategies.controller import Strategy
from tests.strategies.detectors.flights import jump, runs

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]
Interval = tuple[int, int]

CARS: Final = (  # vehicle, payload, overlay, sensors
    ("marram_2", "", "", ""),
    ("marram_2", "two_in_the_back", "", "tired"),
    ("marram", "", "softer_tyres", ""),
    ("marram_2", "recovery_kit", "rear_bypass_zone", ""),
    ("marram", "", "spring_and_bar", "tired"),
)
JUMPS: Final = tuple((lip, speed) for lip in (0.35, 0.55, 0.8) for speed in (40.0, 50.0, 60.0, 70.0))
BATCH: Final = 32  # cases at once
FLIGHT, HOP, LEAST = 0.2, 0.12, 0.03  # s
NEAR: Final = 10  # ticks, softness of the edges of a hop
SETTINGS: Final[tuple[dict[str, float], ...]] = (
    {},
    *({"sure_evidence": evidence} for evidence in (0.016, 0.02, 0.026, 0.05)),
    *({"sure_share": share} for share in (0.05, 0.12, 0.2)),
    *({"smooth_hz": hz} for hz in (12.0, 28.0, 40.0)),
    {"slow_worth": 1.0},
)


@dataclass(frozen=True, eq=False)
class Take:
    """One drive: what its controller saw, gaps held, and which ticks no wheel carried anything in."""

    label: str
    seen: Mapping[str, Array]
    off: Gate


@dataclass(frozen=True)
class Found:
    """What became of the flights of many takes. [s], [1/min]"""

    latencies: tuple[float, ...]
    missed: int
    false: tuple[str, ...]
    hops: tuple[int, int]
    grounded: float

    def __str__(self) -> str:
        middle, late, worst = 1e3 * np.percentile(self.latencies, [50, 90, 100])
        rate = 60.0 * len(self.false) / self.grounded
        flights = len(self.latencies) + self.missed
        times = f"{middle:4.0f} {late:4.0f} {worst:4.0f} ms"
        return f"{times}  missed {self.missed}/{flights}  false {rate:.2f}/min  hops {self.hops[0]}/{self.hops[1]}"


def courses() -> list[tuple[str, Course]]:
    """The library, then jumps."""
    library = [read_section(path) for path in sorted((shipped_calibrations() / "sections").glob("*.toml"))]
    jumps = [(f"jump {lip:g} m, {speed:g} km/h", jump(lip, speed)) for lip, speed in JUMPS]
    return [*((section.name, section.build()) for section in library), *jumps]


def driven(names: tuple[str, str, str, str], plug_ins: PlugIns) -> Iterator[Take]:
    """All courses in all drive modes with one car."""
    vehicle_name, payload, overlay, sensors_name = names
    shipped = shipped_calibrations()
    calibration = read_calibration(shipped / "strategies" / "marram_baseline.toml", plug_ins)
    folder = shipped / "vehicles"
    vehicle = read_cars(folder / f"{vehicle_name}.toml", payload, folder / "overlays" / f"{overlay}.toml" if overlay else None).candidate
    plain = read_sensors(shipped / "sensors" / f"{sensors_name}.toml") if sensors_name else Sensors.typical()
    sensors = with_offsets(replace(plain, seed=11), vehicle)
    rows = [(name, course, mode) for name, course in courses() for mode in range(len(calibration.modes))]
    for start in range(0, len(rows), BATCH):
        batch = rows[start : start + BATCH]
        cases = tuple(Case(name, calibration.name, calibration.modes[mode], 0, vehicle.car.name) for name, _, mode in batch)
        controller = Strategy([calibration], [0] * len(batch), plug_ins, DT)
        modes = np.array([mode for _, _, mode in batch], np.int16)
        whole = drive([row[1] for row in batch], [vehicle] * len(batch), controller, cases, modes, sensors=sensors).whole()
        fine = whole.truth["wheel_load"].shape[1] // whole.ticks
        for number, case in enumerate(cases):
            ticks = int(whole.running[0, :, number].sum())
            seen = {name: held(values[:, :ticks, number]) for name, values in whole.signals.items()}
            off = np.asarray((whole.truth["wheel_load"][:, : ticks * fine : fine, number] < 1.0).all(axis=0))
            yield Take(f"{case.section}, {case.mode}", seen, off)


def held(values: Array) -> Array:
    """Gaps filled with the last value before them."""
    index = np.maximum.accumulate(np.where(np.isfinite(values), np.arange(values.shape[1]), 0), axis=1)
    return np.nan_to_num(np.take_along_axis(values, index, axis=1))


class Replay:
    """The chain of the flight detector over takes side by side, each held at its end."""

    def __init__(self, takes: Sequence[Take], plug_ins: PlugIns, car: Car, lost: int | None = None) -> None:
        self.takes, self.plug_ins, self.car = takes, plug_ins, car
        longest = max(take.off.size for take in takes)
        self.values: dict[str, Any] = {
            name: np.stack([np.pad(take.seen[name], ((0, 0), (0, longest - take.off.size)), "edge") for take in takes], axis=-1)
            for name in takes[0].seen
            if name in SIGNALS
        }
        valid = np.ones((4, longest, len(takes)))
        if lost is not None:
            valid[lost, 500:] = 0.0
            self.values["shaft_travel"][lost, 500:] = self.values["shaft_travel"][lost, 500]
        self.values["shaft_travel_valid"] = valid
        for name in ("ShaftSpeed", "BodyRates", "TyreForce"):
            self.values |= self.ran(name, {})

    def ran(self, name: str, settings: Mapping[str, float]) -> dict[str, Any]:
        """Outputs of one plug-in with the car's numbers, defaults, and `settings`."""
        found = self.plug_ins.by_name[name]
        cars = {key: getattr(self.car, one.from_car) for key, one in found.parameters.items() if one.from_car}
        numbers = {key: value if np.ndim(value) == 0 else np.reshape(value, (4, 1, 1)) for key, value in cars.items()}
        memory = Memory(DT)
        memory.begin()
        result: dict[str, Any] = found.cls(**{**numbers, **settings}).run(Chunk(DT, self.values), memory)
        memory.end()
        return result

    def judged(self, state: str, settings: Mapping[str, float]) -> Found:
        """One row of settings."""
        active = self.ran("Airborne", settings)[state].active[0] > 0.0
        found = [judged(take, runs(active[: take.off.size, number])) for number, take in enumerate(self.takes)]
        return Found(
            tuple(value for one in found for value in one.latencies), sum(one.missed for one in found),
            tuple(label for one in found for label in one.false),
            (sum(one.hops[0] for one in found), sum(one.hops[1] for one in found)), sum(one.grounded for one in found),
        )  # fmt: skip


def judged(take: Take, said: Sequence[Interval]) -> Found:
    """One take: a detection that touches no true interval of 20 ms and more is false."""
    flown = runs(take.off)
    latencies, missed = [], 0
    for first, last in (pair for pair in flown if length(pair) >= FLIGHT):
        starts = [start for start, end in said if start < last and end > first]
        latencies += [(min(starts) - first) * DT] if starts else []
        missed += not starts
    true = [pair for pair in flown if length(pair) >= NEAR * DT]
    false = tuple(take.label for one in said if not any(touches(one, pair) for pair in true))
    hops = [pair for pair in flown if LEAST <= length(pair) < HOP]
    return Found(
        tuple(latencies), missed, false, (sum(any(touches(one, hop) for one in said) for hop in hops), len(hops)), (~take.off).sum() * DT
    )


def length(pair: Interval) -> float:
    """[s]"""
    return (pair[1] - pair[0]) * DT


def touches(one: Interval, other: Interval) -> bool:
    """Whether they overlap, edges being soft."""
    return one[0] < other[1] + NEAR and other[0] < one[1] + NEAR


def main() -> None:
    """All settings over all takes."""
    plug_ins = discover()
    car = read_car(shipped_calibrations() / "vehicles" / "marram.toml")
    takes = [take for names in CARS for take in driven(names, plug_ins)]
    for title, lost in (("all travels", None), ("front left lost", 0), ("rear right lost", 3)):
        replay = Replay(takes, plug_ins, car, lost)
        sys.stdout.write(f"{title}\n  pre-arm          {replay.judged('airborne_likely', {})}\n")
        for settings in SETTINGS if lost is None else SETTINGS[:1]:
            label = ", ".join(f"{name} {value:g}" for name, value in settings.items()) or "as it is"
            found = replay.judged("airborne", settings)
            sys.stdout.write(f"  {label:22s} {found}  {', '.join(dict.fromkeys(found.false))}\n")


if __name__ == "__main__":
    main()

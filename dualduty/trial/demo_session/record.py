"""Lanes driven, a case each, and of every drive only what its logger and its marks need: nothing else would fit the memory."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.discovery import PlugIns
from dualduty.trace import Case, Header, TraceChunk
from dualduty.trial.clock import DT, Progress
from dualduty.trial.demo_session.car import SessionCar
from dualduty.trial.demo_session.columns import BUS_EVERY, SESSION, sample_ticks
from dualduty.trial.demo_session.lane import Lane
from dualduty.units import STANDARD_GRAVITY
from plant.closed_loop import drive_in_chunks
from plant.sensors import INSTRUMENTS
from strategies.controller import Strategy

Array = NDArray[np.float64]

_SEAT: Final = "seat_specific_force_z"
_FOR_MARKS: Final = ("yaw_rate", "brake", "throttle")
_TRUTH: Final = ("wheel_load", "stop_force", "speed", "distance", "ground_height")


@dataclass(frozen=True)
class Drive:
    """One drive: its name, its drive mode, the seed of its noise, and where it goes."""

    name: str
    mode: str
    seed: int
    lane: Lane


@dataclass(frozen=True, eq=False)
class Driven:
    """What is left of a drive.

    ticks : (sample,) int array
        Ticks of the controller at which the logger took a sample.
    rows : dict of (corner, sample) arrays
        What it recorded, by source. [SI]
    whole : TraceChunk
        Truth and signals that the definitions of states read, at the controller's ticks, one case.
    header : Header
        With `truth_dt` as of `whole`.
    """

    drive: Drive
    ticks: NDArray[np.int_]
    rows: dict[str, Array]
    whole: TraceChunk
    header: Header

    @property
    def distance(self) -> Array:
        """Of the front axle along the lane, at each tick. [m]"""
        return np.asarray(self.whole.truth["distance"][0, :, 0])


def drive_all(drives: Sequence[Drive], car: SessionCar, calibration: Calibration, plug_ins: PlugIns, progress: Progress) -> list[Driven]:
    """All drives at once, in closed loop with the calibration."""
    cases = tuple(Case(one.name, calibration.name, one.mode, one.seed, "marram 2") for one in drives)
    strategy = Strategy([calibration], [0] * len(cases), plug_ins, DT)
    modes = np.array([strategy.modes.index(one.mode) for one in drives], np.int16)
    header, chunks = drive_in_chunks(
        [one.lane.course for one in drives], [car.vehicle] * len(cases), strategy, cases, modes, sensors=car.sensors, progress=progress
    )
    ticks = round(drives[0].lane.course.duration / DT)
    samples = sample_ticks(ticks, DT)[BUS_EVERY:]  # the logger starts when the first commands have arrived
    tape, true = _wound(chunks, samples)
    return [_driven(one, at, samples, tape, true, header) for at, one in enumerate(drives)]


def _wound(chunks: Iterable[TraceChunk], samples: NDArray[np.int_]) -> tuple[dict[str, Array], dict[str, Array]]:
    """Chunks as they come, thinned and joined: rows at the logger's samples, and truth at every tick; (corner, time, case) arrays."""
    logged: list[dict[str, Array]] = []
    true: list[dict[str, Array]] = []
    sources = {column.source for column in SESSION} - {_SEAT, "marker"}
    for chunk in chunks:
        here = samples[np.searchsorted(samples, chunk.start) : np.searchsorted(samples, chunk.start + chunk.ticks)] - chunk.start
        fine = chunk.truth["speed"].shape[1] // chunk.ticks
        held = {**chunk.signals, **chunk.states, **chunk.duty}
        seat = chunk.truth["seat_acceleration_z"][:, ::fine] + STANDARD_GRAVITY
        logged.append(
            {
                **{name: held[name][:, here] for name in sorted(sources)},
                _SEAT: seat[:, here],
                "drive_mode": chunk.mode[:, here].astype(float),
            }
        )
        of_truth = {name: chunk.truth[name][:, ::fine].copy() for name in _TRUTH}
        true.append(of_truth | {name: chunk.signals[name].copy() for name in _FOR_MARKS})
    return _joined(logged), _joined(true)


def _joined(parts: Sequence[dict[str, Array]]) -> dict[str, Array]:
    return {name: np.concatenate([part[name] for part in parts], axis=1) for name in parts[0]}


def _driven(one: Drive, at: int, samples: NDArray[np.int_], tape: dict[str, Array], true: dict[str, Array], header: Header) -> Driven:
    rows = {name: values[:, :, at].astype(float) for name, values in tape.items()}
    rows[_SEAT] = _picked_up(rows[_SEAT], one.seed)
    rows["marker"] = np.zeros((1, len(samples)))
    own = {name: values[:, :, [at]] for name, values in true.items()}
    ticks = own["speed"].shape[1]
    nothing = np.zeros((1, ticks, 1))
    whole = TraceChunk(
        start=0, signals={name: own[name] for name in _FOR_MARKS}, truth={name: own[name] for name in _TRUTH}, valid={}, quantities={},
        states={}, strengths={}, asked={}, duty={}, layer={}, flags={}, mode=nothing.astype(np.int16), running=nothing + 1.0,
    )  # fmt: skip
    return Driven(one, samples, rows, whole, replace(header, truth_dt=header.dt))


def _picked_up(values: Array, seed: int) -> Array:
    """What a pick-up at the seat makes of the truth: common practice's noise, offset and resolution, without its filter."""
    error = INSTRUMENTS[_SEAT]
    random = np.random.default_rng([seed, 2])
    felt = values + error.offset_spread * random.standard_normal() + error.noise * random.standard_normal(values.shape)
    return np.asarray(error.grid * np.round(felt / error.grid))

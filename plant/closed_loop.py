"""The closed loop: plant and controller in turn, the controller one tick late, for all cases at once."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from math import ceil
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.controller import Controller, ControllerOutput, PackedOutput, joined
from dualduty.errors import BadInput
from dualduty.signals import CONTROLLER_LAYOUT, TRUTH_LAYOUT
from dualduty.trace import Case, Header, Trace, TraceChunk
from plant.course import Course
from plant.equilibrium import evaluate, starting_states
from plant.faults import PowerLosses, power_losses, without_power
from plant.packed import Packed, pack, put_duties, starting_rows
from plant.sensor_chain import SensorChain
from plant.sensors import Sensors
from plant.tick import advance
from plant.vehicle import Vehicle

Array = NDArray[np.float64]

PLANT_STEP: Final = 1e-3  # s, the longest: RK4 needs it for the stops and the tyre at hop
APPLIED: Final = slice(CONTROLLER_LAYOUT.rows["applied_compression"].start, CONTROLLER_LAYOUT.rows["applied_rebound"].stop)
TRIM: Final = CONTROLLER_LAYOUT.rows["driver_trim"]
CHUNK: Final = 500  # ticks, a second at 500 Hz: what is joined at once, and how often the memory is noted


def drive(  # noqa: PLR0913 - what a run is made of
    courses: Sequence[Course],
    vehicles: Sequence[Vehicle],
    controller: Controller,
    cases: tuple[Case, ...],
    mode_index: NDArray[Any],
    *,
    sensors: Sensors | None = None,
    driver_trim: float = 0.0,
    progress: Callable[[float], None] | None = None,
) -> Trace:
    """Drive every case to the end of its course.

    Parameters
    ----------
    courses, vehicles
        One per case; the same object may serve several.
    controller : Controller
        Built for as many cases; duties it computes at a tick are latched during the next one.
    mode_index : (case,) array of int
        Drive mode of each case.
    sensors : Sensors
        Their errors; none by default.
    driver_trim : float
        Where the driver's trim stands: steps firmer, negative for softer. [1]
    progress : function
        Called with the share done, 0..1.

    Returns
    -------
    Trace
        Signals at the controller's step, truth at the plant's.

    Raises
    ------
    BadInput
        Where the arguments don't fit together, or where numbers ran away (names case and time).
    """
    header, chunks = drive_in_chunks(
        courses, vehicles, controller, cases, mode_index, sensors=sensors, driver_trim=driver_trim, progress=progress
    )
    return Trace.held(header, list(chunks))


def drive_in_chunks(  # noqa: PLR0913 - as drive
    courses: Sequence[Course],
    vehicles: Sequence[Vehicle],
    controller: Controller,
    cases: tuple[Case, ...],
    mode_index: NDArray[Any],
    *,
    sensors: Sensors | None = None,
    driver_trim: float = 0.0,
    progress: Callable[[float], None] | None = None,
) -> tuple[Header, Iterator[TraceChunk]]:
    """As `drive`, but hands the chunks over one by one and keeps none: for drives too long for the memory."""
    _check_counts(courses, vehicles, controller, cases, mode_index)
    steps = ceil(controller.dt / PLANT_STEP - 1e-9)
    packed = pack(vehicles, courses, controller.dt / steps, controller.dt)
    sensors = sensors or Sensors()
    chain, losses = SensorChain(sensors, cases, controller.dt), power_losses(sensors.faults, cases, controller.dt)
    loop = _Loop(packed, starting_states(courses, vehicles), controller, chain, losses, driver_trim)
    mode = np.ascontiguousarray(np.asarray(mode_index, np.int16).reshape(1, 1, -1))
    return _header(controller, cases, packed, vehicles), _chunks(loop, mode, cases, progress)


def _chunks(
    loop: _Loop, mode: NDArray[np.int16], cases: tuple[Case, ...], progress: Callable[[float], None] | None
) -> Iterator[TraceChunk]:
    ticks = int(loop.packed.cases["ticks"].max())
    for start in range(0, ticks, CHUNK):
        chunk = loop.run(start, min(CHUNK, ticks - start), mode)
        _check_sane(loop.failed, cases)
        yield chunk
        if progress is not None:
            progress(min(start + CHUNK, ticks) / ticks)


class _Loop:
    """State of a closed loop between chunks."""

    def __init__(
        self, packed: Packed, states: Array, controller: Controller, chain: SensorChain, losses: PowerLosses, driver_trim: float
    ) -> None:
        self.packed, self.controller, self.chain, self.losses, self.driver_trim = packed, controller, chain, losses, driver_trim
        self.steps = round(controller.dt / float(packed.cases["step"][0]))
        self.rows = starting_rows(packed, states)
        self.memory = controller.start()
        self.failed = np.full(len(packed.cases), -1.0)
        self.latched = np.zeros((8, 1, len(packed.cases)))
        self.sensed = self._advance(0, 0, 0, np.zeros((0, 1, len(packed.cases))))

    def _advance(self, tick: int, begin: int, steps: int, truth: Array) -> Array:
        """The next tick, and what the sensors give at its end; 0 steps: what they give now."""
        felt = np.empty((CONTROLLER_LAYOUT.size, 1, self.failed.size))
        powered = without_power(self.losses, tick, self.latched)
        packed = self.packed
        advance(packed.cases, packed.tables, packed.tracks, powered, tick, begin, steps, self.rows, felt, truth, self.failed)
        felt[TRIM] = self.driver_trim
        felt[APPLIED] = self.latched  # the controller knows its own command, not what became of it
        return self.chain.read(felt)

    def run(self, start: int, ticks: int, mode: NDArray[np.int16]) -> TraceChunk:
        """The next chunk of ticks."""
        truth = np.empty((TRUTH_LAYOUT.size, ticks * self.steps, self.failed.size))
        snapshot = self.memory.snapshot() if hasattr(self.memory, "snapshot") else None
        seen: list[Array] = []
        outputs: list[ControllerOutput | PackedOutput] = []
        latched, run, memory = self.latched, self.controller.run, self.memory
        for place in range(ticks):
            seen.append(self.sensed)
            output = run(self.sensed, mode, memory)
            outputs.append(output)
            if start + place == 0:
                self._begin_with(output)
            self.sensed = self._advance(start + place, place * self.steps, self.steps, truth)
            latched[:4], latched[4:] = output.duty["compression"], output.duty["rebound"]
        running = (np.arange(start, start + ticks)[:, None] < self.packed.cases["ticks"]).astype(float)[None]
        return TraceChunk(
            start=start,
            signals=CONTROLLER_LAYOUT.split(np.concatenate(seen, axis=1)),
            mode=np.repeat(mode, ticks, axis=1),
            running=running,
            truth=TRUTH_LAYOUT.split(truth),
            memory=snapshot,
            **joined(outputs),
        )

    def _begin_with(self, output: ControllerOutput | PackedOutput) -> None:
        """A controller has long been running when a section begins: valves rest where its first command puts them."""
        self.latched[:4], self.latched[4:] = output.duty["compression"], output.duty["rebound"]
        put_duties(self.packed, self.rows, without_power(self.losses, 0, self.latched)[:, 0].T)
        evaluate(self.packed, self.rows)


def _header(controller: Controller, cases: tuple[Case, ...], packed: Packed, vehicles: Sequence[Vehicle]) -> Header:
    digests = {
        "vehicles": hashlib.sha256(packed.cases.tobytes() + packed.tables.tobytes()).hexdigest()[:16],
        "courses": hashlib.sha256(packed.tracks.tobytes()).hexdigest()[:16],
    }
    return Header(
        source="simulated",
        dt=controller.dt,
        cases=cases,
        modes=controller.modes,
        layers=controller.layers,
        states=controller.states,
        truth_dt=float(packed.cases["step"][0]),
        stamp="; ".join(dict.fromkeys(vehicle.stamp for vehicle in vehicles)),
        digests=digests,
    )


def _check_counts(
    courses: Sequence[Course], vehicles: Sequence[Vehicle], controller: Controller, cases: Sequence[Case], mode_index: NDArray[Any]
) -> None:
    counts = {"courses": len(courses), "vehicles": len(vehicles), "controller": controller.cases, "mode_index": len(mode_index)}
    for name, count in counts.items():
        if count != len(cases):
            raise BadInput("closed loop", f"{name} is for {count} cases; expected {len(cases)}")
    if len(cases) == 0:
        raise BadInput("closed loop", "expected at least one case, came none")
    for course in courses:
        _check_course(course, controller.dt)


def _check_course(course: Course, dt: float) -> None:
    tracks = {"left": course.ground.left, "right": course.ground.right}
    tracks |= {name: getattr(course.drive, name) for name in ("speed", "curvature", "brake", "throttle", "steer", "hold", "coast")}
    for name, track in tracks.items():
        if track.ndim != 1 or track.size != course.ground.left.size or track.size < 2:  # noqa: PLR2004 - a line needs two points
            raise BadInput(f"course {course.name}", f"{name} is {track.shape}; expected ({course.ground.left.size},), at least 2 points")
        if not np.isfinite(track).all():
            raise BadInput(f"course {course.name}", f"{name} is not finite at point {int(np.argmin(np.isfinite(track)))}")
    if not course.ground.step > 0.0 or not course.duration >= dt:
        raise BadInput(f"course {course.name}", f"step {course.ground.step:g} m, duration {course.duration:g} s; expected both above 0")


def _check_sane(failed: Array, cases: Sequence[Case]) -> None:
    if (failed >= 0.0).any():
        worst = int(np.argmax(failed >= 0.0))
        raise BadInput(cases[worst].label, f"the motion ran away at {failed[worst]:.3f} s; is a number of the vehicle far off the usual?")

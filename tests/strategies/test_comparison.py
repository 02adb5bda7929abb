"""Channels compared with each other: no drive over the shipped sections raises a false fault, gross faults are found."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.car import Car
from dualduty.memory import Memory
from dualduty.shipped import shipped_calibrations
from dualduty.signals import CONTROLLER_LAYOUT
from dualduty.trace import Case
from plant.closed_loop import drive
from plant.constant_duty import ConstantDuty
from plant.payload import laden, payload_named
from plant.section import list_sections, read_section
from plant.sensor_file import read_sensors
from plant.sensors import Sensors
from plant.vehicle import Vehicle, read_vehicle
from strategies.channel_checks import DISAGREES, STUCK
from strategies.intake import Intake

Array = NDArray[np.float64]
DT = 0.002
SHIPPED = shipped_calibrations()
LIVELY = ("kicker_jump", "whoops", "berm_corner", "side_slope", "twist_lane", "washed_out_track", "slalom", "braking_rough")
LABELS = [f"{signal.name} {corner}" for signal in CONTROLLER_LAYOUT.signals for corner in range(signal.corners)]
# a third tighter each: what is seen without a fault stays clear of the limits by that much
TIGHTER = {"compare_over": 30.0, "twist_limit": 0.027, "like_share": 0.45, "wheel_share": 0.25, "apart_after": 1.3}


def row(name: str, corner: int = 0) -> int:
    """Row of a channel."""
    return int(CONTROLLER_LAYOUT.rows[name].start) + corner


def sensed_over(sections: tuple[str, ...], vehicle: Vehicle, sensors: Sensors, seed: int | None = None) -> list[Array]:
    """What the sensors gave over each section, (row, time)."""
    read = [read_section(SHIPPED / "sections" / f"{name}.toml") for name in sections]
    cases = tuple(Case(section.name, "fixed", "fixed", seed if seed is not None else section.seed) for section in read)
    courses = [section.build(seed) for section in read]
    trace = drive(courses, [vehicle] * len(cases), ConstantDuty(len(cases), 0.3, 0.4), cases, np.zeros(len(cases), int), sensors=sensors)
    whole = trace.whole()
    stack = np.concatenate([whole.signals[name] for name in CONTROLLER_LAYOUT.names])
    return [stack[:, whole.running[0, :, case] > 0.0, case] for case in range(len(cases))]


def nominal() -> tuple[Vehicle, Sensors]:
    """The vehicle that the strategy was told of, with usual sensors."""
    return read_vehicle(SHIPPED / "vehicles" / "marram.toml"), Sensors.typical(1)


def other() -> tuple[Vehicle, Sensors]:
    """Another one, laden on one side, softer in the tyres, with tired sensors."""
    car = read_vehicle(SHIPPED / "vehicles" / "marram_2.toml")
    car = laden(car, payload_named(car, "stretcher", "test"))
    return car.overlay(tyre_rate=0.75 * car.tyre_rate), read_sensors(SHIPPED / "sensors" / "tired.toml")


def told(car: Car, **settings: float) -> Intake:
    """The intake with what it knows of the car."""
    by_corner = {name: np.reshape(getattr(car, name), (4, 1, 1)) for name in ("static_travel", "motion_ratio", "half_track")}
    return Intake(wheelbase=car.wheelbase, **by_corner, **settings)  # type: ignore[arg-type]


def judged(sensed: Array, intake: Intake) -> tuple[Array, Array]:
    """Kind and lost, (row, time)."""
    memory = Memory(DT)
    memory.begin()
    _, kind, lost = intake.run(np.ascontiguousarray(sensed[:, :, None]), memory)
    memory.end()
    return kind[:, :, 0], lost[:, :, 0]


def no_false_fault(driven: list[Array], names: tuple[str, ...], car: Car) -> None:
    """Nothing is ever called wrong, not even with tighter limits."""
    for name, sensed in zip(names, driven, strict=True):
        for intake in (told(car), told(car, **TIGHTER)):
            kind, lost = judged(sensed, intake)
            wrong = [(LABELS[place], kind[place].max()) for place in np.flatnonzero(kind.any(axis=1) | lost.any(axis=1))]
            assert not wrong, (name, wrong)


def no_false_fault_on_end(driven: list[Array], car: Car) -> None:
    """All sections one after the other, in three orders: what was averaged over one goes into the next.

    Signals jump at the seams, which is told for a moment, but nothing may be lost, or called stuck or disagreeing.
    """
    random = np.random.default_rng(2)
    for _ in range(3):
        sensed = np.concatenate([driven[place] for place in random.permutation(len(driven))], axis=1)
        kind, lost = judged(sensed, told(car))
        assert not lost.any()
        assert not (kind >= STUCK).any()


@pytest.mark.parametrize("build", [nominal, other])
def test_no_lively_section_raises_a_false_fault(build: Callable[[], tuple[Vehicle, Sensors]], car: Car) -> None:
    no_false_fault(sensed_over(LIVELY, *build()), LIVELY, car)


@pytest.mark.slow
@pytest.mark.parametrize("build", [nominal, other])
@pytest.mark.parametrize("seed", [None, 5])
def test_no_section_raises_a_false_fault(build: Callable[[], tuple[Vehicle, Sensors]], seed: int | None, car: Car) -> None:
    names = tuple(path.stem for path in list_sections(SHIPPED / "sections"))
    driven = sensed_over(names, *build(), seed)
    no_false_fault(driven, names, car)
    no_false_fault_on_end(driven, car)


def test_a_parked_car_on_broken_ground_has_no_fault(car: Car) -> None:
    """One wheel on a stone and a side slope for a minute: travels may stand anywhere."""
    random = np.random.default_rng(4)
    sensed = np.repeat(CONTROLLER_LAYOUT.per_row("rest")[:, None], 30000, axis=1)
    sensed[row("shaft_travel")], sensed[row("shaft_travel", 1)] = 0.24, 0.02
    sensed[row("specific_force_y")] = 3.3  # a slope of 20 degrees
    sensed[row("brake")] = 1.0
    sensed[:19] += 1e-4 * random.normal(size=(19, 30000))
    kind, lost = judged(sensed, told(car))
    assert not kind.any()
    assert not lost.any()


@pytest.fixture(scope="module")
def long_drive(car: Car) -> Array:
    """A rough track three times on end, 18 s; (row, time)."""
    parts = sensed_over(("washed_out_track",), *nominal())
    drive_on = np.concatenate(parts * 3, axis=1)
    kind, lost = judged(drive_on, told(car))
    assert not lost.any()
    assert not (kind == DISAGREES).any()
    return drive_on


START = 1500  # tick from which a channel is wrong


def with_fault(sensed: Array, place: int, change: Callable[[Array], Array]) -> Array:
    """A copy with one channel changed from START on."""
    made = sensed.copy()
    made[place, START:] = change(made[place, START:])
    return made


@pytest.mark.parametrize("corner", range(4))
@pytest.mark.parametrize(
    ("change", "within"),
    [
        # seconds; measured with this drive at 12 m/s: 2.8, 2.6, 2.5, 0.3
        (lambda travel: travel + 0.1, 4.0),
        (lambda travel: travel - 0.1, 4.0),
        (lambda travel: 0.1 * travel, 4.0),
        (lambda travel: 3.0 * travel, 1.0),
    ],
    ids=["offset up", "offset down", "tenth of the gain", "three times the gain"],
)
def test_a_travel_off_by_offset_or_gain_is_lost_and_no_other_channel(
    long_drive: Array, car: Car, corner: int, change: Callable[[Array], Array], within: float
) -> None:
    lost = judged(with_fault(long_drive, row("shaft_travel", corner), change), told(car))[1]
    assert lost[row("shaft_travel", corner), START + round(within / DT) :].all()
    assert not np.delete(lost, row("shaft_travel", corner), axis=0).any()


def test_a_travel_that_is_put_right_is_believed_again(long_drive: Array, car: Car) -> None:
    sensed = long_drive.copy()
    sensed[row("shaft_travel"), START : 2 * START] += 0.1
    lost = judged(sensed, told(car))[1][row("shaft_travel")]
    assert lost[2 * START]
    assert not lost[-1]


@pytest.mark.parametrize(
    ("name", "change", "within"),
    [
        ("specific_force_z", lambda force: force + 8.0, 5.0),
        ("specific_force_z", lambda force: -force, 2.0),
        ("specific_force_z", lambda force: 0.1 * force, 5.0),
        ("specific_force_x", lambda force: force + 10.0, 9.0),
        ("specific_force_y", lambda force: force - 10.0, 9.0),
        ("roll_rate", lambda rate: rate + 0.5, 3.0),
        ("pitch_rate", lambda rate: rate - 0.5, 3.0),
        ("yaw_rate", lambda rate: rate + 0.6, 4.5),
        ("wheel_speed", lambda speed: 0.1 * speed, 3.0),
        ("wheel_speed", lambda speed: 1.6 * speed, 3.0),
        ("wheel_speed", lambda speed: 0.0 * speed, 3.0),
        ("steer_angle", lambda angle: angle + 0.2, 7.0),
        ("brake", lambda pedal: pedal + 0.8, 6.0),
    ],
)
def test_a_gross_fault_of_another_channel_is_found_and_no_other_blamed(
    long_drive: Array, car: Car, name: str, change: Callable[[Array], Array], within: float
) -> None:
    """Seconds allowed: about one and a half times what was measured with this drive."""
    kind, lost = judged(with_fault(long_drive, row(name), change), told(car))
    assert (kind[row(name), START + round(within / DT) :] == DISAGREES).any()
    assert lost[row(name), START + round(within / DT)]
    assert not np.delete(lost, row(name), axis=0).any()


def test_a_yaw_gyro_the_wrong_way_round_is_outvoted_in_turns(car: Car) -> None:
    sensed = np.concatenate(sensed_over(("constant_radius",), *nominal()) * 2, axis=1)
    kind = judged(with_fault(sensed, row("yaw_rate"), lambda rate: -rate), told(car))[0]
    assert (kind[row("yaw_rate")] == DISAGREES).any()
    assert not (np.delete(kind, row("yaw_rate"), axis=0) == DISAGREES).any()


def test_nothing_is_compared_when_that_is_switched_off(long_drive: Array, car: Car) -> None:
    sensed = with_fault(long_drive, row("shaft_travel"), lambda travel: travel + 0.1)
    assert not (judged(sensed, told(car, compare=0.0))[0] == DISAGREES).any()


def test_half_the_time_step_changes_little(long_drive: Array, car: Car) -> None:
    """The times at which faults are told are seconds, not ticks."""
    sensed = with_fault(long_drive, row("shaft_travel"), lambda travel: travel + 0.1)
    coarse = judged(sensed, told(car))[1][row("shaft_travel")]
    memory = Memory(DT / 2.0)
    memory.begin()
    fine = told(car).run(np.ascontiguousarray(np.repeat(sensed, 2, axis=1)[:, :, None]), memory)[2][row("shaft_travel"), :, 0]
    memory.end()
    # one look of 10 ms
    assert np.argmax(fine) * DT / 2.0 == pytest.approx(np.argmax(coarse) * DT, abs=0.011)

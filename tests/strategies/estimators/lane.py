"""A short lane driven once at fixed duties with usual sensors, and what the estimators make of it beside the plant's truth."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

import dualduty
from dualduty.car import Car
from dualduty.contract import Chunk, State
from dualduty.discovery import Found, PlugIns, discover
from dualduty.each_tick import base_name
from dualduty.memory import Memory
from dualduty.shipped import shipped_calibrations
from dualduty.signals import SIGNALS
from dualduty.trace import Case, TraceChunk
from dualduty.trial.cars import read_cars
from plant.closed_loop import drive
from plant.constant_duty import ConstantDuty
from plant.course import Course
from plant.section import read_section
from plant.sensors import Sensors

Array = NDArray[np.float64]

DT: Final = 0.002
SECTIONS: Final = ("berm_20_deg", "constant_radius", "kicker_jump", "whoops", "corrugation", "iso_road", "braking_straight", "smooth_track")
STEEPER: Final = {
    "bank_deg = 12": "bank_deg = 20",
    "hold_m = 24": "hold_m = 40",
    "arc_m = 20": "arc_m = 36",
    "duration_s = 4.5": "duration_s = 6.5",
}
FLIGHT_TOLD_AFTER: Final = 0.04  # s, a detector's delay
PLUG_INS: Final[PlugIns] = discover()


@dataclass(frozen=True)
class Driven:
    """The whole run: signals of all sections side by side, truth at the same ticks."""

    names: tuple[str, ...]
    signals: Mapping[str, Array]
    truth: Mapping[str, Array]
    running: NDArray[np.bool_]
    car: Car

    def case(self, section: str) -> int:
        """Index of a section."""
        return self.names.index(section)

    def cut(self, array: Array, section: str) -> Array:
        """(corner, time) of one section, while it runs."""
        case = self.case(section)
        return array[:, self.running[0, :, case], case]

    def rms(self, error: Array, section: str) -> float:
        """R.m.s. of an error over all corners of a section."""
        return float(np.sqrt((self.cut(error, section) ** 2).mean()))


def drive_lane(folder: Path, sensors: Sensors | None = None) -> Driven:
    """Drive every section at 25 % compression and 30 % rebound."""
    car_file = shipped_calibrations() / "vehicles" / "marram.toml"
    vehicle = read_cars(car_file).vehicles(1)[0]
    courses = [_course(name, folder) for name in SECTIONS]
    cases = tuple(Case(name, "fixed", "fixed", 1, "marram") for name in SECTIONS)
    controller = ConstantDuty(len(cases), 0.25, 0.3, DT)
    trace = drive(courses, [vehicle] * len(cases), controller, cases, np.zeros(len(cases), np.int16), sensors=sensors or Sensors.typical())
    whole: TraceChunk = trace.whole()
    truth = {name: np.ascontiguousarray(array[:, ::2]) for name, array in (whole.truth or {}).items()}
    signals = {name: np.ascontiguousarray(array) for name, array in whole.signals.items()}
    return Driven(SECTIONS, signals, truth, whole.running > 0.0, vehicle.car)


def _course(name: str, folder: Path) -> Course:
    sections = Path(dualduty.__file__).parent.parent / "calibrations" / "sections"
    if name != "berm_20_deg":
        return read_section(sections / f"{name}.toml").build(None)
    text = (sections / "berm_corner.toml").read_text(encoding="utf-8").replace('"berm_corner"', '"berm_20_deg"')
    for before, after in STEEPER.items():
        assert before in text
        text = text.replace(before, after)
    file = folder / "berm_20_deg.toml"
    file.write_text(text, encoding="utf-8")
    return read_section(file).build(None)


def plug_in(name: str, car: Car | None = None, /, **values: Any) -> Any:
    """One plug-in with the car's numbers, then `values`; four numbers go to the corners."""
    found = PLUG_INS.by_name[name]
    own = {}
    if car is not None:
        own = {key: getattr(car, declared.from_car) for key, declared in found.parameters.items() if declared.from_car}
    shaped = {key: np.asarray(value, float).reshape(4, 1, 1) if np.ndim(value) == 1 else value for key, value in {**own, **values}.items()}
    return found.cls(**shaped)


def run(made: Any, values: Mapping[str, Any], dt: float = DT) -> dict[str, Any]:
    """Outputs of one plug-in over whole arrays, from fresh memory."""
    memory = Memory(dt)
    memory.begin()
    result: dict[str, Any] = made.run(Chunk(dt, values), memory)
    memory.end()
    return result


def estimate(driven: Driven, wanted: Iterable[str], **values: Mapping[str, Any]) -> dict[str, Any]:
    """Everything that the wanted quantities need, worked out over the lane; `values` are parameters by class name.

    Flight is the plant's truth, told late: what is measured here is no detector's doing.
    """
    aloft = (driven.truth["wheel_load"] < 1.0).all(axis=0, keepdims=True)
    told = State(late(aloft.astype(float), FLIGHT_TOLD_AFTER))
    now: dict[str, Any] = {**driven.signals, "airborne_likely": told, "airborne": told}
    for name in wanted:
        _pull(name, now, driven.car, values)
    return now


def _pull(name: str, now: dict[str, Any], car: Car, values: Mapping[str, Mapping[str, Any]]) -> None:
    if name in now:
        return
    if name in SIGNALS:
        now[name] = np.full_like(now["yaw_rate"], SIGNALS[name].rest)
        return
    found: Found = PLUG_INS.suppliers(name)[0]
    for read in found.reads:
        _pull(base_name(read), now, car, values)
    now.update(run(plug_in(found.name, car, **values.get(found.name, {})), now))


def spread(ticks: int, **values: Any) -> dict[str, Any]:
    """Inputs that stand still: numbers become (1, ticks, 1), four numbers (4, ticks, 1), arrays over time (1, ticks, 1)."""
    made: dict[str, Any] = {}
    for name, value in values.items():
        array = np.asarray(value, float)
        rows = array.reshape(1, -1, 1) if array.ndim == 1 and array.size == ticks else array if array.ndim == 3 else array.reshape(-1, 1, 1)
        made[name] = np.ascontiguousarray(np.broadcast_to(rows, (rows.shape[0], ticks, 1)))
    return made


def states(ticks: int, **values: float) -> dict[str, State]:
    """States that stand still."""
    return {name: State(np.full((1, ticks, 1), value)) for name, value in values.items()}


def late(array: Array, seconds: float) -> Array:
    """Truth as it was some time ago, held at the start."""
    ticks = round(seconds / DT)
    return np.concatenate([np.repeat(array[:, :1], ticks, axis=1), array[:, : array.shape[1] - ticks]], axis=1)


def shown_rows(names: Iterable[str]) -> dict[str, list[float]]:
    """Numbers of the rows of docs/estimators.md that begin with these names."""
    text = (Path(dualduty.__file__).parent.parent / "docs" / "estimators.md").read_text(encoding="utf-8")
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in text.splitlines() if line.startswith("|")]
    return {row[0]: [float(cell) for cell in row[1:]] for row in cells if row[0] in set(names)}

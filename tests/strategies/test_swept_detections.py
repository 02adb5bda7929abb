"""Many values at once: to the tick what each value gives alone, through everything that depends on it."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.calibration.settings import Settings
from dualduty.contract import Chunk, Duty, Memory, State, state
from dualduty.discovery import PlugIns, discover, examine
from dualduty.errors import BadInput
from dualduty.signals import CONTROLLER_LAYOUT
from strategies.detections import Detections
from strategies.swept_detections import SweptDetections

Array = NDArray[np.float64]
DT = 0.002
STRATEGIES = Path(__file__).parents[2] / "calibrations" / "strategies"
TICKS = 3500


@pytest.fixture(scope="module")
def plug_ins() -> PlugIns:
    """Everything found."""
    return discover()


@pytest.fixture(scope="module")
def demo(plug_ins: PlugIns) -> Calibration:
    """The demo's baseline."""
    return read_calibration(STRATEGIES / "marram_baseline.toml", plug_ins)


@pytest.fixture(scope="module")
def sensed() -> Array:
    """Turns that grow, brakes, and two flights of unlike length."""
    random = np.random.default_rng(11)
    time = (np.arange(TICKS) * DT).reshape(1, -1, 1)
    signals = np.repeat(CONTROLLER_LAYOUT.per_row("rest").reshape(-1, 1, 1), TICKS, axis=1)
    signals = signals + 1e-3 * random.normal(size=signals.shape)
    rows = CONTROLLER_LAYOUT.rows
    signals[rows["wheel_speed"]] += 13.0
    signals[rows["yaw_rate"]] += 0.12 * time * np.sin(3.0 * time)
    signals[rows["brake"]] = np.clip(0.15 * time * np.sin(5.0 * time), 0.0, 1.0)
    for begin, end in ((600, 680), (2000, 2150)):
        tick = np.arange(TICKS)
        out = np.clip((tick - begin + 20) / 40.0, 0.0, 1.0) * np.clip((end + 20 - tick) / 20.0, 0.0, 1.0)
        signals[rows["shaft_travel"]] += out.reshape(1, -1, 1) * (0.01 - signals[rows["shaft_travel"]])
        signals[rows["specific_force_z"], begin:end] -= 9.5
        signals[rows["specific_force_z"], end : end + 30] += 12.0
    return signals


@pytest.fixture(scope="module")
def mode() -> NDArray[np.int16]:
    """Drive modes that change once."""
    mode = np.ones((1, TICKS, 1), np.int16)
    mode[0, 1500:] = 0
    return mode


def settings_of(demo: Calibration, place: str, name: str, values: Array) -> list[Settings]:
    """Settings of a plug-in with each of the values, in all drive modes and at all corners."""
    base = demo.settings[place]
    return [base | {name: dataclasses.replace(base[name], values=np.full_like(base[name].values, value))} for value in values]


def alone(demo: Calibration, place: str, one: Settings, drive: tuple[Array, NDArray[np.int16]], plug_ins: PlugIns, wanted: str) -> Array:
    """The wanted state with one value, (row, tick)."""
    made = dataclasses.replace(demo, settings=demo.settings | {place: one})
    looking = Detections([made], [0], plug_ins, DT, states=[wanted])
    return np.asarray(looking.run(*drive, looking.start()).states[wanted][:, :, 0] > 0.0)


@pytest.mark.parametrize(
    "which",
    [
        ("Airborne", "sure_evidence", (0.0, 0.034, 0.08, 0.15, 0.3), "airborne"),
        ("Airborne", "sure_evidence", (0.0, 0.034, 0.08, 0.15, 0.3), "landing"),  # through what reads the flight
        ("Cornering", "on", (1.8, 2.5, 4.0), "cornering_outer"),  # by corner
    ],
)
def test_every_value_as_if_it_were_alone(
    which: tuple[str, str, tuple[float, ...], str], demo: Calibration, plug_ins: PlugIns, sensed: Array, mode: NDArray[np.int16]
) -> None:
    detector, name, values, wanted = which
    place = f"detectors.{detector}"
    settings = settings_of(demo, place, name, np.array(values))
    sweep = SweptDetections(demo, {detector: settings}, plug_ins, DT, wanted)
    memory = sweep.start()
    for begin, end in ((0, 1), (1, 700), (700, TICKS)):
        sweep.run(sensed[:, begin:end], mode[:, begin:end], memory)
    counted = []
    assert sweep.ran == TICKS
    for found, one in zip(sweep.changes(), settings, strict=True):
        active = alone(demo, place, one, (sensed, mode), plug_ins, wanted)
        assert len(found) == len(active)
        for stretches, row in zip(found, active, strict=True):
            np.testing.assert_array_equal(stretches.ravel(), np.flatnonzero(np.diff(np.concatenate([[0], row, [0]]).astype(int))))
        counted.append(tuple(map(len, found)))
    assert len(set(counted)) > 1  # the values do differ


def test_times_of_the_same_tick_run_once(demo: Calibration, plug_ins: PlugIns, sensed: Array, mode: NDArray[np.int16]) -> None:
    settings = settings_of(demo, "detectors.Airborne", "sure_evidence", np.array([0.1, 0.034, 0.0341, 0.1003]))
    sweep = SweptDetections(demo, {"Airborne": settings}, plug_ins, DT, "airborne")
    memory = sweep.start()
    sweep.run(sensed, mode, memory)
    assert sum(share.count for share in memory.shares) == 2
    late, early, as_early, as_late = (each[0].tolist() for each in sweep.changes())
    assert late == as_late
    assert early == as_early
    assert early != late


def test_a_state_that_the_swept_class_has_no_part_in(demo: Calibration, plug_ins: PlugIns) -> None:
    settings = settings_of(demo, "detectors.Braking", "on_demand", np.array([0.1]))
    with pytest.raises(BadInput, match="airborne does not depend on Braking"):
        SweptDetections(demo, {"Braking": settings}, plug_ins, DT, "airborne")


@dataclasses.dataclass(frozen=True)
class ByArray:
    """A detector in array form, and no parameters."""

    gives = (state("by_array", "made up"),)

    def run(self, now: Chunk, memory: Memory) -> dict[str, State]:
        """Active in turns."""
        return {"by_array": State((now.yaw_rate > 0.1).astype(float))}


@dataclasses.dataclass(frozen=True)
class ReadsByArray:
    """Pulls it in."""

    def run(self, now: Chunk, memory: Memory) -> Duty:
        """Firm in turns."""
        return Duty(now.by_array.active)


def test_array_form_is_refused_in_one_line(tmp_path: Path, plug_ins: PlugIns) -> None:
    known = examine([*(found.cls for found in plug_ins.by_name.values()), ByArray, ReadsByArray])
    path = tmp_path / "odd.toml"
    layer = '[[layers]]\nname = "odd"\nlaw = "ReadsByArray"\n'
    path.write_text(f'starts_from = "{(STRATEGIES / "marram_baseline.toml").as_posix()}"\n{layer}', encoding="utf-8")
    made = read_calibration(path, known)
    with pytest.raises(BadInput, match=r"ByArray: is in array form; a sweep runs what has tick") as caught:
        SweptDetections(made, {"ByArray": [{}]}, known, DT, "by_array")
    assert "\n" not in str(caught.value)

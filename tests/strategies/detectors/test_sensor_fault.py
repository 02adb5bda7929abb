"""Sensor fault: one state for each kind that the intake tells, after it has lasted."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.contract import Chunk, Memory, State
from dualduty.signals import CONTROLLER_SIGNALS
from strategies.detectors.sensor_fault import WATCHED, SensorFault

Array = NDArray[np.float64]
DT = 0.002
TICKS = 100
STATES = {1.0: "sensor_missing", 2.0: "sensor_out_of_range", 3.0: "sensor_jumping", 4.0: "sensor_stuck", 5.0: "sensor_disagreeing"}
CORNERS = {signal.name: signal.corners for signal in CONTROLLER_SIGNALS}


def faults(**of: Array) -> dict[str, Array]:
    """The intake's word on every channel, 0 where nothing else is given."""
    return {f"{name}_fault": of.get(name, np.zeros((CORNERS[name], TICKS, 1))) for name in WATCHED}


def during(kind: float, corners: int, corner: int, first: int, after: int) -> Array:
    """One kind of fault for some ticks."""
    made = np.zeros((corners, TICKS, 1))
    made[corner, first:after] = kind
    return made


def active(given: dict[str, Array], detector: SensorFault) -> dict[str, Array]:
    """Each state over time."""
    memory = Memory(DT)
    memory.begin()
    states: dict[str, State] = detector.run(Chunk(DT, given), memory)  # type: ignore[attr-defined]
    memory.end()
    return {name: value.active[0, :, 0] for name, value in states.items()}


def test_all_channels_but_the_duties_are_watched() -> None:
    assert set(WATCHED) == {name for name in CORNERS if not name.startswith("applied_")}


@pytest.mark.parametrize("name", WATCHED)
@pytest.mark.parametrize("kind", STATES)
def test_every_kind_of_every_channel_opens_its_own_state(name: str, kind: float) -> None:
    for corner in range(CORNERS[name]):
        given = faults(**{name: during(kind, CORNERS[name], corner, 20, 60)})
        states = active(given, SensorFault(on_delay=0.01, off_delay=0.02))
        expected = np.zeros(TICKS)
        expected[25:70] = 1.0  # 5 ticks to come, 10 to go
        for state, found in states.items():
            np.testing.assert_array_equal(found, expected if state == STATES[kind] else 0.0 * expected, err_msg=state)


def test_two_kinds_at_once_open_both() -> None:
    given = faults(yaw_rate=during(1.0, 1, 0, 10, 90), shaft_travel=during(5.0, 4, 2, 10, 90))
    states = active(given, SensorFault())
    assert [name for name, found in states.items() if found.any()] == ["sensor_missing", "sensor_disagreeing"]


def test_one_missing_sample_is_no_fault() -> None:
    assert not active(faults(brake=during(1.0, 1, 0, 50, 51)), SensorFault())["sensor_missing"].any()


def test_a_trim_knob_that_is_not_fitted_is_no_fault_but_one_that_falls_silent_is() -> None:
    never = active(faults(driver_trim=during(1.0, 1, 0, 0, TICKS)), SensorFault())
    assert not never["sensor_missing"].any()
    later = active(faults(driver_trim=during(1.0, 1, 0, 30, TICKS)), SensorFault())
    assert later["sensor_missing"].any()

"""The picture of felt against given."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from dualduty.errors import BadInput
from dualduty.signals import CONTROLLER_LAYOUT
from dualduty.trace import Case
from plant.faults import Fault
from plant.sensor_chain import SensorChain
from plant.sensor_picture import Listened, save_sensor_picture, sensor_figure
from plant.sensors import SensorError, Sensors

CASE = Case("whoops", "one", "dash", 1)
FAULTS = (Fault("stuck", "shaft_travel", "rear_left", start=0.2, duration=0.1), Fault("dropout", "brake", start=0.3, section="whoops"))


def listened(sensors: Sensors) -> Listened:
    felt = 0.1 + 0.05 * np.sin(0.05 * np.arange(CONTROLLER_LAYOUT.size * 250.0)).reshape(CONTROLLER_LAYOUT.size, 250, 1)
    given = SensorChain(sensors, [CASE], 0.002).read(felt)
    return Listened(felt[:, :, 0], given[:, :, 0], 0.002, sensors, CASE)


def test_every_panel_names_quantity_unit_corner_and_fault() -> None:
    axes = sensor_figure(listened(Sensors({"yaw_rate": SensorError(noise=0.01)}, faults=FAULTS))).axes
    assert [axis.get_title(loc="left") for axis in axes] == ["shaft travel, rear-left [mm]", "yaw rate [deg/s]", "brake [%]"]
    assert [axis.get_title(loc="right") for axis in axes] == ["stuck from 0.2 s to 0.3 s", "", "dropout from 0.3 s"]
    assert axes[-1].get_xlabel() == "time [s]"


def test_channels_and_window_can_be_chosen() -> None:
    figure = sensor_figure(listened(Sensors.typical()), ["steer_angle", "brake"], (0.1, 0.2))
    assert len(figure.axes) == 2
    assert figure.axes[0].get_xlim() == (0.1, 0.2)
    with pytest.raises(BadInput, match="no channel 'roll' was listened to; expected one of shaft_travel, "):
        sensor_figure(listened(Sensors.typical()), ["roll"])
    with pytest.raises(BadInput, match="expected a channel with an error or a fault, found none"):
        sensor_figure(listened(Sensors()))


def test_a_picture_is_written(tmp_path: Path) -> None:
    path = save_sensor_picture(listened(Sensors.typical()), tmp_path / "sensors.png", ["brake"])
    assert path.read_bytes().startswith(b"\x89PNG")

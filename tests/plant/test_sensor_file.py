"""Files of sensors and of faults: what they say, and the one line for what is wrong with them."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from dualduty.errors import BadInput
from plant.faults import Fault
from plant.sensor_file import read_faults, read_sensors
from plant.sensors import Mounting, SensorError

GOOD = """
provenance = "invented"
seed = 4

[shaft_travel]
noise_mm = 0.3
offset_mm = { front_left = 1.2, front_right = -0.4, rear_left = 0.0, rear_right = 0.3 }
gain = 1.01
gain_spread_pct = 0.5
drift_per_minute_mm = 6.0
corner_hz = 150
order = 2
delay_ms = 1.5
period_ms = 10
low_mm = -10
high_mm = 350
grid_mm = 0.1
dropout_pct = 0.05

[yaw_rate]
offset_deg_s = 0.5

[mounting]
roll_deg = 1.0

[[fault]]
kind = "swapped"
channel = "shaft_travel"
corner = "front_left"
with_corner = "rear_left"
start_s = 2.0

[[fault]]
kind = "spike"
channel = "specific_force_z"
size_g = 3.0
every_s = 0.5
section = "whoops"
seed = 2

[[fault]]
kind = "drift"
channel = "shaft_travel"
growth_per_second_mm = 2.0
duration_s = 5

[[fault]]
kind = "power_loss"
corner = "rear"
start_ms = 500
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "car.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_what_a_sensors_file_says(tmp_path: Path) -> None:
    sensors = read_sensors(written(tmp_path, GOOD))
    assert sensors.seed == 4
    travel = sensors.errors["shaft_travel"]
    assert travel.offset == pytest.approx((1.2e-3, -0.4e-3, 0.0, 0.3e-3))
    assert (travel.gain, travel.order, travel.corner_hz) == (1.01, 2, 150.0)
    assert travel.drift == pytest.approx(1e-4)  # 6 mm a minute
    sizes = {"noise": 3e-4, "gain_spread": 5e-3, "delay": 1.5e-3, "period": 0.01, "low": -0.01, "high": 0.35, "grid": 1e-4, "dropout": 5e-4}
    assert {name: getattr(travel, name) for name in sizes} == pytest.approx(sizes)
    assert sensors.errors["yaw_rate"] == SensorError(offset=0.5 * math.pi / 180)
    assert sensors.mounting == Mounting(roll=math.pi / 180)
    assert sensors.faults == (
        Fault("swapped", "shaft_travel", "front_left", "rear_left", start=2.0),
        Fault("spike", "specific_force_z", size=3.0 * 9.80665, every=0.5, section="whoops", seed=2),
        Fault("drift", "shaft_travel", growth=2e-3, duration=5.0),
        Fault("power_loss", corner="rear", start=0.5),
    )


def test_a_faults_file_alone(tmp_path: Path) -> None:
    assert read_faults(written(tmp_path, '[[fault]]\nkind = "stuck"\nchannel = "brake"')) == (Fault("stuck", "brake"),)
    assert read_faults(written(tmp_path, "")) == ()
    with pytest.raises(BadInput, match=r"car\.toml: faults: unknown key; did you mean 'fault'\?$"):
        read_faults(written(tmp_path, '[[faults]]\nkind = "stuck"'))


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("[shaft_travel]\nnoise = 0.3", "shaft_travel.noise: the key must name its unit; expected 'noise_mm'"),
        ("[shaft_travel]\nnoise_deg = 0.3", "shaft_travel.noise_deg: deg is no unit of length; expected one of noise_m, noise_mm"),
        ("[shaft_travel]\nnoise_mm = -1", "shaft_travel.noise_mm: -1 mm is below 0 mm (standard deviation of a sample)"),
        ("[shaft_travel]\noffset_mm = {front_left = 1}", "shaft_travel.offset_mm: expected a value for each of front_left, front_right"),
        ("[yaw_rate]\noffset_deg_s = {front_left = 1}", "yaw_rate.offset_deg_s: expected a number, came a table"),
        ("[shaft_travel]\nnoise_mm = {front_left = 1}", "shaft_travel.noise_mm: expected a number, came a table"),
        ("[shaft_travel]\norder = 1.5", "shaft_travel.order: expected a whole number (order of the low-pass filter), came 1.5"),
        ("[shaft_travel]\nlow_mm = 5\nhigh_mm = 5", "shaft_travel: low, high: expected a range, came 0.005 to 0.005"),
        ("[shaft_travl]\nnoise_mm = 1", "shaft_travl: no such channel; did you mean 'shaft_travel'?"),
        ("[mounting]\nroll_deg = 40", "mounting.roll_deg: 40 deg is above 20.0535 deg (sensor box turned right side down)"),
        ("sead = 3", "sead: unknown key; did you mean 'seed'?"),
        ('[[fault]]\nkind = "melted"', "fault[0].kind: expected one of dropout, stuck, spike,"),
        ('[[fault]]\nchannel = "brake"', "fault[0].kind: expected what goes wrong, came nothing"),
        ('[[fault]]\nkind = "stuck"', "fault[0]: no channel ''; expected one of shaft_travel,"),
        ('[[fault]]\nkind = "spike"\nchannel = "brake"\nsize_mm = 1', "fault[0].size_mm: mm is no unit of number; expected one of size_1"),
        ('[[fault]]\nkind = "spike"\nchannel = "brake"\nsize_pct = 50', "fault[0]: expected every, came nothing"),
        ('[[fault]]\nkind = "stuck"\nchannel = "brake"\nsection = 3', "fault[0].section: expected a text, came 3"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_file(tmp_path: Path, text: str, problem: str) -> None:
    with pytest.raises(BadInput) as caught:
        read_sensors(written(tmp_path, f'provenance = "invented"\n{text}'))
    assert str(caught.value).startswith(f"{tmp_path / 'car.toml'}: {problem}")


def test_a_file_says_where_its_numbers_come_from(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="provenance: expected a text, came nothing"):
        read_sensors(written(tmp_path, "[yaw_rate]\nnoise_deg_s = 0.1"))

"""One vehicle of a type, its dampers from dyno sheets, zones and payloads: what is read, and what is said about a bad file."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from dualduty.car import read_car
from dualduty.dyno.reading import read_sheet
from dualduty.errors import BadInput
from dualduty.shipped import shipped_calibrations
from plant.sensor_offsets import with_offsets
from plant.sensors import Sensors
from plant.vehicle import read_vehicle

SHIPPED = shipped_calibrations()
SECOND = SHIPPED / "vehicles" / "marram_2.toml"


def edited(folder: Path, *changes: tuple[str, str], name: str = "marram_2.toml") -> Path:
    """A copy of a shipped vehicle file, beside its type and sheets, with some text changed."""
    for part in ("vehicles", "dyno"):
        shutil.copytree(SHIPPED / part, folder / part, dirs_exist_ok=True)
    path = folder / "vehicles" / name
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")
    return path


def test_what_is_not_measured_is_the_types_and_what_is_measured_is_not() -> None:
    first, second = read_vehicle(SHIPPED / "vehicles" / "marram.toml"), read_vehicle(SECOND)
    assert second.bar_rate.tolist() == first.bar_rate.tolist()
    np.testing.assert_allclose(second.spring_rate, [30.6e3, 30.2e3, 39.6e3, 40.1e3])
    assert second.car.name == "marram_2"
    assert [zone.multipliers.tolist() for zone in second.zones["compression"]] == [  # type: ignore[union-attr]
        zone.multipliers.tolist() for zone in first.zones["compression"] if zone is not None
    ]


def test_each_corner_has_the_damper_of_its_own_sheet() -> None:
    vehicle = read_vehicle(SECOND)
    for corner in range(4):
        sheet = read_sheet(SHIPPED / "dyno" / "marram_2" / f"MD-220{corner + 1}.csv")
        for side in ("compression", "rebound"):
            np.testing.assert_array_equal(vehicle.damper_map(side, corner).forces, sheet.maps[side].forces)
        found = [values[corner] for values in (vehicle.friction, vehicle.gas_force, vehicle.gas_rate, vehicle.compression_crosstalk)]
        assert found == [sheet.friction, sheet.gas_force, sheet.gas_rate, sheet.crosstalk["compression"]]
    speed, duty = np.full((1, 1, 1), 2.0), np.full((1, 1, 1), 0.5)
    weak, good = (vehicle.damper_map("rebound", corner).force(speed, duty)[0, 0, 0] for corner in (3, 2))
    assert weak < 0.93 * good  # MD-2204 is 12 % weak above 1 m/s, and dampers scatter by up to 2.5 %


def test_the_nominal_part_knows_what_was_measured_but_not_the_dampers() -> None:
    car, nominal = read_car(SECOND), read_car(SHIPPED / "vehicles" / "marram.toml")
    assert car.name == "marram_2"
    assert car.sprung_mass == pytest.approx(read_vehicle(SECOND).car.sprung_mass)
    np.testing.assert_array_equal(car.rear_rebound.forces, nominal.rear_rebound.forces)


def test_a_fit_stands_over_what_was_measured_and_brings_its_stamp(tmp_path: Path) -> None:
    path = edited(tmp_path)
    path.write_text(path.read_text(encoding="utf-8") + '\n[fit]\nstamp = "fitted"\ngrip = 0.77\ntyre_rate_n_mm = { rear = 120 }\n', "utf-8")
    vehicle = read_vehicle(path)
    assert (vehicle.grip, vehicle.stamp) == (0.77, "fitted")
    np.testing.assert_allclose(vehicle.tyre_rate, [112e3, 112e3, 120e3, 120e3])
    assert read_vehicle(SECOND).stamp == "not compared"


def test_measured_sensor_offsets_replace_the_drawn_ones() -> None:
    sensors = with_offsets(Sensors.typical(), read_vehicle(SECOND))
    assert sensors.errors["shaft_travel"].offset == pytest.approx((0.8e-3, -0.5e-3, 0.3e-3, -1.1e-3))
    assert sensors.errors["shaft_travel"].offset_spread == 0.0
    assert sensors.errors["roll_rate"] == Sensors.typical().errors["roll_rate"]


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('type = "marram.toml"', 'type = "maram.toml"', "did you mean 'marram.toml'"),
        ('type = "marram.toml"', 'type = "marram_2.toml"', "itself one vehicle of a type"),
        ("[measured]", "[measure]", "measure: unknown; did you mean 'measured'"),
        ("grip = 0.80", "gripp = 0.80", "measured.gripp: unknown key; did you mean 'grip'"),
        ("grip = 0.80", "sprung_mass_kg = 790", "the scales show 919.2 kg; sprung and unsprung mass are 944.0 kg"),
        ("grip = 0.80", "friction_n = 50", "measured.friction: comes from the dyno sheet at front-left"),
        ("front_left = 2090, ", "", "expected a weight for every corner"),
        ("2090, front_right = 2080, rear_left = 2418, rear_right = 2426", "2195, front_right = 1975, rear_left = 2313, rear_right = 2531",
         "more than 4% apart"),
        ("front_left = 103, ", "front_left = 110, ", "static_travel: 110 mm at front-left"),
        ("MD-2201", "MD-2202", "is of a damper at front_right"),
        ("marram_2/MD-2202", "marram_1/MD-2102", "is of 'marram', expected 'marram_2'"),
        ("marram_2/MD-2202", "marram_2/MD-2299", "found no file"),
        ('front_left = "..', 'front_lef = "..', "dampers.front_lef: unknown; did you mean 'front_left'"),
        ("yaw_rate_deg_s", "yaw_rate_deg", "the key must name a unit"),
        ("[sensor_offset]", "[fit]\ngrip = 0.7\n[sensor_offset]", "fit.stamp: is missing"),
    ],
)  # fmt: skip
def test_bad_files_name_file_and_key(tmp_path: Path, old: str, new: str, message: str) -> None:
    path = edited(tmp_path, (old, new))
    with pytest.raises(BadInput) as caught:
        read_vehicle(path)
    assert message in str(caught.value)
    assert str(tmp_path) in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "rear_compression = { travel_mm",
            "rear_compresion = { travel_mm",
            "zones.rear_compresion: unknown; did you mean 'rear_compression'",
        ),
        ("multiplier = [1, 1, 1.35]", "multiplier = [1, 1]", "expected as many multipliers as travels"),
        ("travel_mm = [0, 185, 255]", "travel_mm = [0, 285, 255]", "expected travels that rise"),
        ("multiplier = [1, 1, 1.35]", "multiplier = [1, 1, -1]", "expected multipliers between 0 and 10"),
        ("mass_kg = 160", "mass_lb = 160", "payload[1].mass_lb: unknown"),
        ('name = "stretcher"', 'name = "two_in_the_back"', "payload[2].name: 'two_in_the_back' is taken"),
    ],
)
def test_bad_zones_and_payloads_are_named(tmp_path: Path, old: str, new: str, message: str) -> None:
    with pytest.raises(BadInput) as caught:
        read_vehicle(edited(tmp_path, (old, new), name="marram.toml"))
    assert message in str(caught.value)


def test_a_corner_s_zone_stands_over_its_axle_s(tmp_path: Path) -> None:
    more = "[zones]\nrear_left_compression = { travel_mm = [0, 100], multiplier = [1, 2] }"
    vehicle = read_vehicle(edited(tmp_path, ("[zones]", more), name="marram.toml"))
    left, right = vehicle.zone("compression", 2), vehicle.zone("compression", 3)
    assert left is not None
    assert right is not None
    assert (left.multipliers.tolist(), right.multipliers.tolist()) == ([1.0, 2.0], [1.0, 1.0, 1.35])
    assert vehicle.zone("rebound", 2) is None

"""Vehicle files: what is read, and what is said about a bad one."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from dualduty.car import read_car
from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.shipped import shipped_calibrations
from plant.vehicle import read_vehicle

SHIPPED = shipped_calibrations() / "vehicles"


def edited(folder: Path, *changes: tuple[str, str]) -> Path:
    """A copy of the shipped vehicle with some text changed."""
    shutil.copytree(SHIPPED, folder, dirs_exist_ok=True)  # without the dyno sheets, which only marram_2.toml needs
    path = folder / "marram.toml"
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")
    return path


def test_units_in_keys_and_values_by_axle() -> None:
    car = read_car(SHIPPED / "marram.toml")
    np.testing.assert_allclose(car.stroke, [0.275, 0.275, 0.280, 0.280])
    assert car.rear_arm == pytest.approx(1.08)
    assert car.damper_map("rebound", 3) is car.rear_rebound


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("wheelbase_m = 2.40", "wheelbase = 2.40", "car.wheelbase: the key must name a unit"),
        ("wheelbase_m = 2.40", "wheelbase_kg = 2.40", "car.wheelbase_kg: the key must name a unit"),
        ("wheelbase_m = 2.40", "wheelbase_mm = 2.40", "2.4 is below 1000"),
        ("sprung_mass_kg = 800", 'sprung_mass_kg = "800"', "expected a number"),
        ("sprung_mass_kg = 800", "sprung_mass_kg = true", "expected a number"),
        ("sprung_mass_kg = 800", "sprung_mas_kg = 800", "did you mean 'sprung_mass_kg'"),
        ("half_track_m = { front = 0.76, rear = 0.74 }", "half_track_m = { front = 0.76 }", "no value for every corner"),
        (
            "half_track_m = { front = 0.76, rear = 0.74 }",
            "half_track_m = { front = 0.76, back = 0.74 }",
            "half_track_m.back: expected one of front",
        ),
        ("front_arm_m = 1.32", "front_arm_m = 2.5", "car.front_arm: 2.5 m; expected less than the wheelbase"),
        ("bump_contact_mm = { front = 215", "bump_contact_mm = { front = 90", "static_travel: expected less than bump_contact"),
        ("marram_front_rebound.csv", "missing.csv", "missing.csv: can't be read"),
        ("[maps]", "[maps]\nfront = 3", "maps.front: unknown"),
        ("[plant]", "[plant]\nspring_rates = 3", "plant.spring_rates: unknown key"),
        ("yaw_inertia_kg_m2 = 1050", "", "plant.yaw_inertia_kg_m2: is missing"),
        ('name = "marram"', "name = 3", "name: expected a text"),
        ("[car]", "[car", "not valid TOML"),
        ("[plant]", "[plan]", "plan: unknown"),
    ],
)
def test_bad_files_name_file_and_key(tmp_path: Path, old: str, new: str, message: str) -> None:
    path = edited(tmp_path, (old, new))
    with pytest.raises(BadInput) as caught:
        read_vehicle(path)
    assert message in str(caught.value)
    assert str(tmp_path) in str(caught.value)


def test_all_problems_come_at_once(tmp_path: Path) -> None:
    path = edited(tmp_path, ("sprung_mass_kg = 800", "sprung_mass_kg = -1"), ("grip = 0.85", "grip = 9"), ("stroke_mm", "strokes_mm"))
    with pytest.raises(SeveralBadInputs) as caught:
        read_vehicle(path)
    assert len(caught.value.problems) == 4  # the misspelt key, and what is missing for it
    assert "\n" in str(caught.value)


def test_a_missing_file_offers_a_near_one() -> None:
    with pytest.raises(BadInput, match=r"did you mean 'marram\.toml'"):
        read_vehicle(SHIPPED / "maram.toml")


def test_overlay_changes_one_number_and_nothing_else() -> None:
    vehicle = read_vehicle(SHIPPED / "marram.toml")
    changed = vehicle.overlay(sprung_mass=900.0, bar_rate=0.0)
    assert (changed.car.sprung_mass, changed.bar_rate.tolist()) == (900.0, [0.0] * 4)
    assert vehicle.car.sprung_mass == 800.0
    assert changed.spring_rate is vehicle.spring_rate
    with pytest.raises(BadInput, match="did you mean 'spring_rate'"):
        vehicle.overlay(spring_rat=1.0)

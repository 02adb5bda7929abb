"""Hardware overlays: exactly what was asked, nothing else, and all of it said."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from dualduty.errors import BadInput
from dualduty.shipped import shipped_calibrations
from plant.hardware import apply
from plant.overlay_file import read_overlay
from plant.vehicle import Vehicle, read_vehicle

SHIPPED = shipped_calibrations() / "vehicles"
HEAD = 'name = "trial"\nprovenance = "invented"\nintent = "a test"\n'
SPEEDS = np.array([0.1, 0.3, 0.5, 1.5, 2.0, 3.0, 3.2])


@pytest.fixture(scope="module")
def marram() -> Vehicle:
    """The shipped type."""
    return read_vehicle(SHIPPED / "marram.toml")


def changed(tmp_path: Path, vehicle: Vehicle, text: str) -> tuple[Vehicle, str]:
    """A vehicle with an overlay of this text, and what is said of it."""
    path = tmp_path / "trial.toml"
    path.write_text(HEAD + text, encoding="utf-8")
    found = apply(read_overlay(path), vehicle)
    return found.vehicle, "\n".join(found.lines)


def forces(vehicle: Vehicle, side: str, corner: int, duty: float) -> np.ndarray:
    """Forces of a corner's map over the speeds of this test."""
    speeds = SPEEDS.reshape(1, -1, 1)
    return vehicle.damper_map(side, corner).force(speeds, np.full(speeds.shape, duty))[0, :, 0]


WISH = '[[wish]]\ncorners = ["rear"]\nside = "compression"\nchange_pct = 15\nfrom_m_s = 1.5\nto_m_s = 3.2\nunchanged_below_m_s = 0.5\n'


def test_valving_is_exact_on_the_map_at_every_duty_and_only_there(tmp_path: Path, marram: Vehicle) -> None:
    after, said = changed(tmp_path, marram, WISH)
    for duty in (0.0, 0.3, 1.0):
        ratio = forces(after, "compression", 2, duty) / forces(marram, "compression", 2, duty)
        # rtol: force is straight between tested points of both maps
        np.testing.assert_allclose(ratio[:3], 1.0, rtol=1e-9)
        np.testing.assert_allclose(ratio[3:], 1.15, rtol=1e-9)
    for side, corner in (("compression", 0), ("rebound", 2)):
        np.testing.assert_array_equal(forces(after, side, corner, 0.5), forces(marram, side, corner, 0.5))
    assert after.car.static_travel is marram.car.static_travel
    assert said.startswith("valving rear compression +15 %, 1.5 to 3.2 m/s")
    assert "\n" not in said


def test_one_corner_alone_in_newtons_at_firm_duty(tmp_path: Path, marram: Vehicle) -> None:
    wish = '[[wish]]\ncorners = ["rear_left"]\nside = "rebound"\nchange_n = 200\nfrom_m_s = 1.5\nto_m_s = 3.2\nunchanged_below_m_s = 0.5\n'
    after, _ = changed(tmp_path, marram, wish + "from_duty_pct = 100\nunchanged_below_duty_pct = 50\n")
    np.testing.assert_allclose((forces(after, "rebound", 2, 1.0) - forces(marram, "rebound", 2, 1.0))[3:], 200.0, rtol=1e-9)
    np.testing.assert_allclose(forces(after, "rebound", 2, 0.5), forces(marram, "rebound", 2, 0.5), rtol=1e-9)
    np.testing.assert_array_equal(forces(after, "rebound", 3, 1.0), forces(marram, "rebound", 3, 1.0))


def test_springs_move_the_ride_height_and_that_is_said(tmp_path: Path, marram: Vehicle) -> None:
    after, said = changed(tmp_path, marram, "[change_by]\nspring_rate_pct = { rear = 10 }\n")
    np.testing.assert_allclose(after.spring_rate, marram.spring_rate * [1.0, 1.0, 1.1, 1.1])
    assert (after.car.static_travel[2:] < marram.car.static_travel[2:] - 0.005).all()
    assert "spring rate rear 41 to 45.1 N/mm" in said
    assert "static travel" in said


def test_pressure_brings_rate_and_damping_along(tmp_path: Path, marram: Vehicle) -> None:
    after, said = changed(tmp_path, marram, "[change_to]\ntyre_pressure_bar = { front = 0.6 }\n")
    assert after.tyre_rate[0] == pytest.approx(120e3 * (0.2 + 0.8 * 0.5))
    assert after.tyre_damping[0] == pytest.approx(120.0 * 2.0**0.5)
    assert after.tyre_rate[2] == marram.tyre_rate[2]
    assert "tyre rate front 120 to 72 N/mm" in said
    fixed, _ = changed(tmp_path, marram, "[change_to]\ntyre_pressure_bar = 0.7\ntyre_rate_n_mm = 100\n")
    np.testing.assert_allclose(fixed.tyre_rate, 100e3)


def test_zone_and_payload(tmp_path: Path, marram: Vehicle) -> None:
    zone = 'payload = "stretcher"\n[zones]\nrear_rebound = { travel_mm = [0, 100], multiplier = [0.5, 1] }\n'
    after, said = changed(tmp_path, marram, zone)
    found = after.zone("rebound", 3)
    assert found is not None
    assert found.multipliers.tolist() == [0.5, 1.0]
    assert after.zone("compression", 3) is marram.zone("compression", 3)
    assert after.car.sprung_mass == 910.0
    assert "zone rear rebound: 0.5 at 0 mm, 1 at 100 mm, was none" in said
    assert "payload stretcher: 110 kg" in said
    assert "sprung mass 800 to 910 kg" in said


@pytest.mark.parametrize("name", sorted(path.stem for path in (SHIPPED / "overlays").glob("*.toml")))
def test_shipped_overlays_fit_both_vehicles(name: str) -> None:
    overlay = read_overlay(SHIPPED / "overlays" / f"{name}.toml")
    assert overlay.name == name
    assert "invented" in overlay.provenance
    for vehicle in ("marram", "marram_2"):
        assert apply(overlay, read_vehicle(SHIPPED / f"{vehicle}.toml")).lines


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "changes nothing"),
        ("[change]\n", "change: unknown; did you mean 'change_to'"),
        ("[change_by]\nspring_rates_pct = 3\n", "change_by.spring_rates_pct: unknown key; did you mean 'spring_rate_pct'"),
        ("[change_by]\nspring_rate_n_mm = 3\n", "change_by.spring_rate_n_mm: the key must name a unit"),
        ("[change_by]\nspring_rate_pct = -99\n", "-99 is below -95"),
        ("[change_by]\nspring_rate_pct = 3\n[change_to]\nspring_rate_n_mm = 40\n", "is in change_to as well"),
        ("[change_to]\nstatic_travel_mm = 90\n", "follows from springs, gas and masses"),
        ("[change_to]\nstroke_mm = 200\n", "expected less than"),
        ('payload = "strecher"\n', "did you mean 'stretcher'"),
        (WISH.replace("15", "600"), "wish[1]: change_pct"),
        (WISH.replace("to_m_s = 3.2", "to_m_s = 33"), "beyond the last tested shaft speed"),
        ("[zones]\nrear = 3\n", "zones.rear: unknown"),
    ],
)
def test_bad_overlays_name_file_and_key(tmp_path: Path, marram: Vehicle, text: str, message: str) -> None:
    with pytest.raises(BadInput) as caught:
        changed(tmp_path, marram, text)
    assert message in str(caught.value)
    assert str(tmp_path) in str(caught.value)

"""Shapes without chance against free flight and against the bend of a path."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.units import STANDARD_GRAVITY
from plant.terrain.crest import Crest
from plant.terrain.dip import Dip
from plant.terrain.drop import Drop
from plant.terrain.kicker import Kicker

Array = NDArray[np.float64]

STEP = 0.002
ALONG = STEP * np.arange(20_000, dtype=np.float64)


def height_of(piece: Any) -> Callable[[Array], Array]:
    """Height over distance from the start of the piece, on a fine grid."""
    track = piece.heights(ALONG, np.random.default_rng(0))[0]
    return lambda at: np.interp(at, ALONG, track)


def flight(start: tuple[float, float], speed: tuple[float, float], gravity: float, ground: Callable[[Array], Array]) -> tuple[Array, Array]:
    """Where and how fast a point comes down that leaves `start` (along, up) with `speed`: ((along, up), (along, up))."""
    time = np.linspace(0.02, 2.0, 400_001)
    along, up = start[0] + speed[0] * time, start[1] + speed[1] * time - 0.5 * gravity * time**2
    down = int(np.argmax(up <= ground(along)))
    return np.array([along[down], up[down]]), np.array([speed[0], speed[1] - gravity * time[down]])


THROWN = (15.0 * np.cos(np.radians(12.0)), 15.0 * np.sin(np.radians(12.0)))


def ramp_of_12_degrees(**more: float) -> Kicker:
    """A straight ramp whose lip points 12 degrees up and lies 0.5 m above the ground behind it."""
    return Kicker(ramp=0.5 / np.tan(np.radians(12.0)), foot=0.0, lip_height=0.5, face=0.1, **more)


@pytest.mark.validates(
    "ballistic flight T = (vz + sqrt(vz² + 2gh))/g at 15 m/s, 12°, 0.5 m, g = 9.81 m/s²: 0.768465 s, 11.2751 m, 4.41997 m/s"
)
def test_kicker_onto_flat_ground() -> None:
    kicker = ramp_of_12_degrees(gap=30.0)
    assert kicker.lip_slope == pytest.approx(np.tan(np.radians(12.0)), rel=1e-12)
    ground = height_of(kicker)
    place, speed = flight((kicker.ramp, 0.5), THROWN, 9.81, ground)
    # abs: the time step of 5 us is 0.07 mm at this speed, and the printed digits
    assert place[0] - kicker.ramp == pytest.approx(11.2751, abs=2e-4)
    assert -speed[1] == pytest.approx(4.41997, abs=1e-4)
    level = ground(place[0] + np.array([0.0, 0.2, 1.0]))
    assert not level.any()


@pytest.mark.validates(
    "closing speed onto a down-slope of 8°, vz cos 8° - vx sin 8° at the end of that flight: 2.33498 m/s (g = 9.81 m/s²)"
)
def test_kicker_onto_a_falling_landing() -> None:
    # a half cosine is steepest in its middle, pi/2·height/landing: 8 degrees, and put where the flight of the flat case ends
    steepest, landing_height = np.tan(np.radians(8.0)), 0.6
    landing = 0.5 * np.pi * landing_height / steepest
    gap = 11.2751 - 0.5 * landing
    kicker = ramp_of_12_degrees(gap=gap, landing_height=landing_height, landing=landing, drop=0.5 * landing_height)
    ground = height_of(kicker)
    place, speed = flight((kicker.ramp, 0.5), THROWN, 9.81, ground)
    assert place[0] - kicker.ramp == pytest.approx(11.2751, abs=1e-3)  # the landing's middle lies as high as the flat ground did
    slope = np.arctan((ground(place[:1] + 0.05) - ground(place[:1] - 0.05))[0] / 0.1)
    assert np.degrees(slope) == pytest.approx(-8.0, abs=2e-3)  # a chord of 0.1 m and of the grid
    closing = -(speed[1] * np.cos(slope) - speed[0] * np.sin(slope))
    # rel: 2e-3 degrees turn 15 m/s by 5e-4 m/s
    assert closing == pytest.approx(2.33498, rel=5e-4)


@pytest.mark.parametrize("height", [0.2, 0.5])
@pytest.mark.validates(
    "closed form: a fall from rest over height h takes sqrt(2h/g); leaving the edge level, the point lands v times that further on"
)
def test_drop_is_a_fall(height: float) -> None:
    ground = height_of(Drop(height=height, edge=0.05))
    place, speed = flight((0.0, 0.0), (8.0, 0.0), STANDARD_GRAVITY, ground)
    # abs: 5 us at 8 m/s
    assert place[0] == pytest.approx(8.0 * np.sqrt(2 * height / STANDARD_GRAVITY), abs=1e-4)
    assert speed[1] == pytest.approx(-np.sqrt(2 * height * STANDARD_GRAVITY), abs=1e-4)


@pytest.mark.validates("closed form: a point that follows z(x) at speed v weighs g + v² z'' per mass, nothing at sqrt(g/-z'')")
def test_crest_floats_at_its_stated_speed() -> None:
    crest = Crest(height=1.0, rise=12.0, top=0.0, fall=10.0)
    up = crest.heights(ALONG, np.random.default_rng(0))[0]
    bend = np.diff(up, 2) / STEP**2
    weight = STANDARD_GRAVITY + crest.floating_speed**2 * bend
    # abs: rounding of heights of 1 m, 1e-16/step² = 3e-11 1/m, times v²; and the step's own 1e-7 of g
    assert weight.min() == pytest.approx(0.0, abs=1e-5)
    assert ALONG[1:-1][np.argmin(weight)] == pytest.approx(12.0, abs=0.01)


@pytest.mark.validates("closed form: the second derivative of a half cosine of depth d and length L where it ends is pi²/2·d/L²")
def test_dip_presses_by_its_stated_bend() -> None:
    dip = Dip(depth=0.4, entry=6.0, floor=2.0, climb_out=8.0)
    bend = np.diff(dip.heights(ALONG, np.random.default_rng(0))[0], 2) / STEP**2
    # rel: second differences over 2 mm of a wave of 12 m, 1e-7, and rounding 1e-10 of 0.05
    assert bend.max() == pytest.approx(0.5 * np.pi**2 * 0.4 / 6.0**2, rel=1e-5)

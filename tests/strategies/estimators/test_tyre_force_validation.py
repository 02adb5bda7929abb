"""Tyre force: standing, cornering, braking and flying in closed form; errors and wheels in the air against the plant."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.units import STANDARD_GRAVITY
from tests.strategies.estimators.lane import DT, Driven, estimate, late, plug_in, run, shown_rows, spread

Array = NDArray[np.float64]
LATE = 0.016  # s, of filters and sensors together, measured: errors are least against truth of 16 ms ago
CAR: dict[str, Any] = {
    "sprung_mass": 800.0, "unsprung_mass": [36.0, 36.0, 39.0, 39.0], "corner_x": [1.3, 1.3, -1.1, -1.1], "half_track": [0.75] * 4,
    "motion_ratio": [0.6] * 4, "cg_height": 0.6, "spring_rate": [30e3, 30e3, 40e3, 40e3], "bar_rate": [0.0] * 4,
}  # fmt: skip
MASS = 950.0


def forces(**values: Any) -> Array:
    """Tyre forces (4,) after two seconds of a steady state."""
    rest: dict[str, Any] = dict.fromkeys(("specific_force_x", "specific_force_y", "net_roll_rate", "net_pitch_rate"), 0.0)
    rest |= {"roll_rate_valid": 1.0, "pitch_rate_valid": 1.0}
    rest |= {"specific_force_z": STANDARD_GRAVITY, "shaft_travel": [0.1] * 4, "shaft_speed": [0.0] * 4}
    found = run(plug_in("TyreForce", **CAR), spread(1000, **{**rest, **values}))
    return found["tyre_force"][:, -1, 0]  # type: ignore[no-any-return]


@pytest.mark.validates("statics: weight of the sprung mass by lever arms, and each wheel's own weight")
def test_standing() -> None:
    front, rear = 800 * STANDARD_GRAVITY * 1.1 / 2.4 / 2, 800 * STANDARD_GRAVITY * 1.3 / 2.4 / 2
    expected = [front + 36 * STANDARD_GRAVITY] * 2 + [rear + 39 * STANDARD_GRAVITY] * 2
    assert forces() == pytest.approx(expected)


@pytest.mark.validates("statics: load transfer m a h / track in a left turn goes right, m a h / wheelbase when braking goes forward")
def test_load_transfer() -> None:
    cornering = forces(specific_force_y=4.0) - forces()
    assert cornering[1] + cornering[3] == pytest.approx(MASS * 4.0 * 0.6 / 1.5)
    assert cornering.sum() == pytest.approx(0.0, abs=1e-6)
    braking = forces(specific_force_x=-5.0) - forces()
    assert braking[0] + braking[1] == pytest.approx(MASS * 5.0 * 0.6 / 2.4)
    assert braking.sum() == pytest.approx(0.0, abs=1e-6)


@pytest.mark.validates("statics: a body twisted by its wheels (warp), no moment in all: the springs alone tell which diagonal carries more")
def test_warp_comes_from_the_springs() -> None:
    twisted = forces(shaft_travel=[0.11, 0.09, 0.1 - 0.0075, 0.1 + 0.0075]) - forces()
    # front 30 N/mm x 20 mm x 0.6 = 360 N of difference, rear the same in return
    assert twisted == pytest.approx([180.0, -180.0, -180.0, 180.0], rel=1e-6)


@pytest.mark.validates("statics: the sum over the left and over the right is the roll moment's, whatever one travel sensor shows")
@pytest.mark.parametrize("lost", range(4))
def test_a_travel_that_is_held_moves_no_other_wheel(lost: int) -> None:
    """Lost at 100 mm off: its axle's split is what the other axle leaves of the measured moment."""
    held = np.where(np.arange(4) == lost, 0.2, 0.1)
    found = forces(shaft_travel=held, shaft_travel_valid=(np.arange(4) != lost).astype(float))
    assert found == pytest.approx(forces())
    assert np.abs(forces(shaft_travel=held) - forces()).min() > 400.0  # N, at each wheel, were it believed


@pytest.mark.validates("law of nature: nothing is felt in free flight, and nothing stands on the tyres")
def test_flight() -> None:
    assert forces(specific_force_z=0.0, shaft_travel=[0.0] * 4) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.validates("plant truth: wheel load of a lane, 16 ms ago, usual sensors")
def test_on_the_lane(driven: Driven) -> None:
    error = estimate(driven, ["tyre_force"])["tyre_force"] - late(driven.truth["wheel_load"], LATE)
    shown = shown_rows(driven.names)
    for section in driven.names:
        assert driven.rms(error, section) == pytest.approx(shown[section][6], abs=6.0)
    assert np.mean([driven.rms(error, section) for section in driven.names]) < 270.0  # measured 253 N, 11 % of the static load


class Marked(NamedTuple):
    """Wheels in the air for 60 ms or longer: how many, how many found, when [ms], and marks where none was in the air."""

    flights: int
    found: int
    delays: list[float]
    false: int


def marked(driven: Driven, section: str, told: Array) -> Marked:
    """How less than 15 % of the static load marks wheels without load."""
    flights, false, delays = 0, 0, []
    for corner in range(4):
        low = driven.cut(told, section)[corner] < 0.15 * driven.car.static_wheel_load[corner]
        off = driven.cut(driven.truth["wheel_load"], section)[corner] < 1.0
        for start, end in _stretches(off):
            if (end - start) * DT >= 0.06:
                flights += 1
                delays += list(np.flatnonzero(low[start : end + 8])[:1] * DT * 1e3)
        false += sum(not off[max(start - 25, 0) : end + 5].any() for start, end in _stretches(low))
    return Marked(flights, len(delays), delays, false)


def _stretches(gate: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], gate.astype(int), [0]])))
    return [(int(start), int(end)) for start, end in edges.reshape(-1, 2)]


@pytest.mark.validates("plant truth: wheels without load on jump and whoops")
def test_wheels_in_the_air_are_marked(driven: Driven) -> None:
    told = estimate(driven, ["tyre_force"])["tyre_force"]
    jump, whoops = (marked(driven, section, told) for section in ("kicker_jump", "whoops"))
    assert jump.found == jump.flights >= 6
    assert whoops.found == whoops.flights >= 15
    assert np.median(jump.delays) < 28.0  # measured 22 ms
    assert np.median(whoops.delays) < 25.0  # measured 19 ms
    assert marked(driven, "corrugation", told).false == 0
    assert marked(driven, "constant_radius", told).false <= 1  # measured 1: for one tick, 14.998 % where the load 16 ms ago is 44 %
    assert jump.false + whoops.false < 14  # measured 10, of wheels that carry little at that moment
    planted = marked(driven, "kicker_jump", late(told, 0.1))
    assert np.median(planted.delays) > 100.0

"""Damper map: force, its inverse, and tables it refuses."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dualduty.damper_map import DamperMap, read_damper_map
from dualduty.errors import BadInput
from dualduty.shipped import shipped_calibrations

SMALL = DamperMap(
    np.array([0.0, 1.0, 3.0]), np.array([0.0, 0.5, 1.0]), np.array([[0.0, 0.0, 0.0], [100.0, 200.0, 400.0], [200.0, 400.0, 900.0]])
)


def at(value: float) -> np.ndarray:
    return np.full((1, 1, 1), value)


@pytest.mark.parametrize(
    ("speed", "duty", "force"),
    [(1.0, 0.5, 200.0), (0.5, 0.25, 75.0), (2.0, 0.75, 475.0), (4.0, 1.0, 1150.0), (-1.0, 0.5, 0.0), (1.0, 7.0, 400.0)],
)
def test_force_is_bilinear_and_goes_on_at_the_last_slope(speed: float, duty: float, force: float) -> None:
    assert SMALL.force(at(speed), at(duty))[0, 0, 0] == pytest.approx(force, abs=1e-12)


@pytest.mark.parametrize("name", ["front_compression", "front_rebound", "rear_compression", "rear_rebound"])
@given(speed=st.floats(1e-3, 4.5), duty=st.floats(0.0, 1.0))
def test_round_trip(name: str, speed: float, duty: float) -> None:
    table = read_damper_map(shipped_calibrations() / "vehicles" / f"marram_{name}.csv")
    back, clamped = table.duty(at(speed), table.force(at(speed), at(duty)))
    # atol: forces have 1e-13 of rounding over a difference of at least 1e-3 of themselves
    assert back[0, 0, 0] == pytest.approx(duty, abs=1e-10)
    assert clamped[0, 0, 0] == 0.0 or duty in (0.0, 1.0)


@pytest.mark.parametrize(
    ("speed", "force", "duty", "clamped"),
    [
        (1.0, 50.0, 0.0, 1.0),
        (1.0, 100.0, 0.0, 0.0),
        (1.0, 500.0, 1.0, 1.0),
        (1.0, 300.0, 0.75, 0.0),
        (0.0, 10.0, 1.0, 1.0),
        (4.0, 500.0, 0.5, 1.0),
    ],
)
def test_what_lies_outside_is_clamped_and_said(speed: float, force: float, duty: float, clamped: float) -> None:
    found = SMALL.duty(at(speed), at(force))
    assert (found[0][0, 0, 0], found[1][0, 0, 0]) == (pytest.approx(duty), clamped)
    assert SMALL.beyond(at(speed))[0, 0, 0] == float(speed > 3.0)


def test_nan_stays_nan() -> None:
    assert np.isnan(SMALL.force(at(np.nan), at(0.5)))
    assert np.isnan(SMALL.duty(at(1.0), at(np.nan))[0])


def test_shapes_broadcast_and_views_are_taken() -> None:
    speed = np.linspace(0.0, 3.0, 24).reshape(4, 3, 2)
    whole = SMALL.force(speed, np.full((4, 3, 2), 0.5))
    assert np.array_equal(SMALL.force(speed, at(0.5)), whole)
    assert np.array_equal(SMALL.force(speed[::2], at(0.5)), whole[::2])


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"forces": np.array([[0.0, 0.0, 0.0], [100.0, 90.0, 400.0], [200.0, 400.0, 900.0]])}, "falls with rising duty at 1 m/s, 50%"),
        (
            {"forces": np.array([[0.0, 0.0, 0.0], [100.0, 200.0, 400.0], [90.0, 400.0, 900.0]])},
            "falls with rising shaft speed at 3 m/s, 0%",
        ),
        ({"forces": np.array([[0.0, 0.0, 0.0], [-1.0, 200.0, 400.0], [90.0, 400.0, 900.0]])}, "is negative"),
        ({"forces": np.array([[0.0, 0.0, 0.0], [100.0, 390.0, 400.0], [399.0, 400.0, 401.0]])}, "overtake firmer ones"),
        ({"speeds": np.array([0.1, 1.0, 3.0])}, "start at 0"),
        ({"duties": np.array([0.0, 0.5, 0.9])}, "from 0 to 100 %"),
        ({"duties": np.array([0.0, 1.0])}, r"forces are \(3, 3\)"),
    ],
)
def test_tables_that_can_not_be_inverted(change: dict[str, np.ndarray], message: str) -> None:
    parts = {"speeds": SMALL.speeds, "duties": SMALL.duties, "forces": SMALL.forces, **change}
    with pytest.raises(BadInput, match=message):
        DamperMap(**parts, source="bench.csv")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "found nothing"),
        ("speed,duty_0_pct\n", "first column is 'speed'; expected shaft_speed_m_s"),
        ("shaft_speed_m_s,soft,duty_100_pct\n", "column 'soft'; expected duty_0_pct"),
        ("shaft_speed_m_s,duty_0_pct,duty_100_pct\n0,0\n", "line 2: expected 3 numbers, came 2"),
        ("# note\nshaft_speed_m_s,duty_0_pct,duty_100_pct\n0,0,much\n", "line 3: expected numbers, came '0,0,much'"),
        ("shaft_speed_m_s,duty_0_pct,duty_100_pct\n0,0,0\n", "at least 2 x 2"),
    ],
)
def test_files_that_are_no_map(tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "bench.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match=message) as caught:
        read_damper_map(path)
    assert str(caught.value).startswith(str(path))


def test_a_missing_file_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"none\.csv: can't be read"):
        read_damper_map(tmp_path / "none.csv")

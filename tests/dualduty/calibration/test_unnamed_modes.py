"""A value given for some drive modes only: the others keep what they had, and a notice says what that is."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from dualduty.calibration.model import Calibration
from dualduty.calibration.origin import modes_reached

Read = Callable[..., Calibration]
MODES = ("patrol", "dash", "haul")
SUPPORT = '[[layers]]\nname = "support"\n'
LAW = SUPPORT + "[layers.RollHold]\n"


def _told(calibration: Calibration) -> list[str]:
    """Notices without the folder."""
    folder = f"{calibration.file.parent}/"
    return [line.replace(folder, "") for line in calibration.notices]


def test_nothing_is_noticed_where_all_modes_are_named_or_none(read: Read) -> None:
    assert _told(read()) == []
    assert _told(read(LAW + "outer_compression_pct.dash = 60")) == []  # the base names all three
    assert _told(read(LAW + "inner_rebound_pct = 30")) == []
    assert _told(read(LAW + "inner_rebound_pct.front = 30")) == []


def test_a_mode_left_out_keeps_the_declared_default_and_says_so(read: Read) -> None:
    candidate = read(LAW + "inner_rebound_pct = { patrol = 30, dash = { front = 40 } }")
    values = candidate.layers[1].law_settings["RollHold"]["inner_rebound"].values
    np.testing.assert_array_equal(values[2], [0.5] * 4)
    place = 'candidate.toml: layers[0] "support".RollHold.inner_rebound_pct'
    assert _told(candidate) == [f"{place}: given for patrol and dash only; haul has 50 %, the declared default"]


def test_a_mode_left_out_keeps_the_value_given_for_all_and_says_so(read: Read) -> None:
    candidate = read(SUPPORT + "fade_in_ms.dash = 90")
    np.testing.assert_array_equal(candidate.layers[1].settings["fade_in"].values[:, 0], [0.06, 0.09, 0.06])
    instead = "patrol and haul have 60 ms, which base.toml gives without naming a drive mode"
    assert _told(candidate) == [f'candidate.toml: layers[0] "support".fade_in_ms: given for dash only; {instead}']


def test_a_curve_and_a_number_of_the_vehicle(read: Read) -> None:
    text = '[[layers]]\nname = "base"\n[layers.ModeCurves.rebound]\npct.haul = [10, 20, 30, 40]\n'
    text += "[detectors.Airborne]\nhang_travel_mm.dash.rear = 25\n"
    airborne, rebound = sorted(_told(read(text)))
    assert airborne == (
        "candidate.toml: detectors.Airborne.hang_travel_mm: given for dash only; "
        f"patrol and haul have {_hang(read())}, the vehicle's number"
    )
    assert rebound.startswith('candidate.toml: layers[0] "base".ModeCurves.rebound.pct: given for haul only; patrol and dash have ')
    assert rebound.endswith(" %, the declared default")


def _hang(calibration: Calibration) -> str:
    numbers = sorted(set(np.round(1e3 * np.ravel(calibration.car.hang_travel), 9)))
    return f"{numbers[0]:.6g} mm" if len(numbers) == 1 else f"{numbers[0]:.6g} to {numbers[-1]:.6g} mm"


def test_the_notice_goes_when_a_later_file_names_the_mode(read: Read) -> None:
    read(LAW + "inner_rebound_pct = { patrol = 30, dash = 40 }", name="middle.toml")
    last = read(name="last.toml").file
    last.write_text('starts_from = "middle.toml"\n' + LAW + "inner_rebound_pct.haul = 35\n", encoding="utf-8")
    from dualduty.calibration.read import read_calibration
    from dualduty.discovery import discover

    assert read_calibration(last, discover()).notices == ()


@pytest.mark.parametrize(
    ("said", "reached"),
    [
        (40.0, {"patrol": False, "dash": False, "haul": False}),
        ({"dash": {"front": 1}}, {"dash": True}),
        ({"front": {"dash": 1}, "rear": 2}, {"dash": True, "patrol": False, "haul": False}),
        ({"left": {"dash": 1}, "right": {"haul": 1}}, {"dash": True, "haul": True}),
    ],
)
def test_which_modes_a_value_reaches(said: object, reached: dict[str, bool]) -> None:
    assert modes_reached(said, MODES) == reached

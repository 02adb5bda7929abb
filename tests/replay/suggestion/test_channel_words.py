"""What names of columns say, however they are spelled."""

from __future__ import annotations

import pytest

from replay.suggestion.channel_words import said_by


@pytest.mark.parametrize(
    "name",
    [
        "travel_fl_mm",
        "LFShockPos",
        "FLpot",
        "Susp Travel FL (mm)",
        "Federweg_VL",
        "shock f l",
        "Front Left Damper [mm]",
        "dampTravelFL",
        "left front susp",
    ],
)
def test_a_travel_is_one_in_many_spellings(name: str) -> None:
    said = said_by(name)
    assert said.corner == 0
    assert "travel" in said.meanings


@pytest.mark.parametrize(
    ("name", "corner"),
    [
        ("wss_rr", 3),
        ("WSS RL", 2),
        ("wheelSpeedFR", 1),
        ("RF Whl Spd", 1),
        ("v_HL", 2),
        ("Poti hinten links", 2),
        ("Rear Right", 3),
        ("speed", None),
        ("fluid", None),
    ],
)
def test_corners(name: str, corner: int | None) -> None:
    assert said_by(name).corner == corner


@pytest.mark.parametrize(
    ("name", "axis", "meaning"),
    [
        ("accX", "x", "acceleration"),
        ("gy", "y", "gravities"),
        ("AccelVert", "z", "acceleration"),
        ("gyro_z", "z", "rate"),
        ("wx", "x", "rate"),
        ("YawRate", "", "yaw"),
        ("Beschleunigung quer", "y", "acceleration"),
        ("Nickrate", "", "pitch"),
    ],
)
def test_axes(name: str, axis: str, meaning: str) -> None:
    said = said_by(name)
    assert said.axis == axis
    assert meaning in said.meanings


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("speed [km/h]", "km/h"),
        ("speed (kph)", "kph"),
        ("speed_km_h", "km/h"),
        ("Timestamp (us)", "us"),
        ("rate_deg_s", "deg/s"),
        ("v_mph", "mph"),
        ("Lat G", "g"),
        ("temp", ""),
        ("column 1", ""),
        ("pot_fl [x]", ""),
    ],
)
def test_units_within_names(name: str, unit: str) -> None:
    said = said_by(name)
    assert (said.unit.label if said.unit is not None else "") == unit


@pytest.mark.parametrize("name", ["text", "start", "string", "Latitude", "", "_", "42", "[]", "éàü"])
def test_words_are_not_read_into_what_has_none(name: str) -> None:
    assert not said_by(name).meanings & {"time", "rebound", "steer", "travel", "rate", "acceleration"}

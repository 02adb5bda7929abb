"""Channel maps: what a column becomes, and how a wrong map is told: all problems at once, each with its key."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.shipped import shipped_calibrations
from replay.channel_map import resolve
from replay.channel_map_file import read_channel_map
from replay.recording import Column, Group
from tests.replay.made_up_logs import MAP, write_map


def groups(*columns: list[str], clock: str = "") -> list[Group]:
    """Groups of a recording that have these columns; named where there are several."""
    names = [f"group {index + 1}" if len(columns) > 1 else "" for index in range(len(columns))]
    return [Group(name, tuple(Column(column) for column in listed), clock) for name, listed in zip(names, columns, strict=True)]


def problems(folder: Path, text: str) -> list[str]:
    with pytest.raises(BadInput) as caught:
        write_map(folder, text)
    return str(caught.value).splitlines()


def test_a_value_is_scaled_offset_in_its_unit_and_turned_round(tmp_path: Path) -> None:
    text = MAP.replace('{ column = "fr", sign = -1, offset = 5 }', '{ column = "fr", sign = -1, scale = 0.5, offset = 5, unit = "cm" }')
    channel = next(channel for channel in write_map(tmp_path, text).channels if channel.columns == ("fr",))
    recorded = 40.0  # 40 counts of half a centimetre plus 5 cm is 25 cm, the other way round
    assert math.isclose(channel.gain * recorded + channel.shift, -0.25)


def test_the_run_sheet_is_kept_as_written(tmp_path: Path) -> None:
    channel_map = write_map(tmp_path)
    assert channel_map.driven_by == "baseline 3"
    assert channel_map.run["tyre_pressure"] == "1.2 bar"


def test_alternatives_are_tried_in_order(tmp_path: Path) -> None:
    resolved = resolve(write_map(tmp_path), groups(["t", "mode", "acc z", "fl", "fr", "rl", "rr", "wz"]), "run.csv")
    assert [found.column for found in resolved.found if found.channel.name == "specific_force_z"] == ["acc z"]
    assert not resolved.missing


def test_all_problems_come_at_once_with_their_keys(tmp_path: Path) -> None:
    text = (
        MAP.replace('unit = "mm"', 'unit = "deg"', 1)
        .replace('column = "wz"', 'colum = "wz"')
        .replace("sign = -1\n", "sign = 2\n")
        .replace("[signals.specific_force_z]", "[signals.specific_force_zz]")
    )
    lines = problems(tmp_path, text)
    expected = [
        "signals.shaft_travel.front_left.unit: expected a unit of length, came 'deg', a unit of angle",
        "signals.yaw_rate.colum: unknown key; did you mean 'column'?",
        "signals.yaw_rate.column: expected a text, came nothing",
        "signals.yaw_rate.sign: expected -1 to 1, came 2",
        "signals.specific_force_zz: unknown key; did you mean 'specific_force_z'?",
    ]
    for text in expected:
        assert any(line.endswith(text) and "map.toml: " in line for line in lines), (text, lines)


@pytest.mark.parametrize(
    ("was", "becomes", "told"),
    [
        ('rear_left = "rl"', 'rear_left = "fl"', "column 'fl' is already used by signals.shaft_travel.front_left; say shared = true"),
        ('rear_left = "rl"', 'rear_left = "rl"\n"rear-left" = "rl2"', "corner rear_left is given twice"),
        ('unit = "g"', 'unit = "gg"', "'gg' is not a unit known here"),
        ('unit = "g"', "", "expected a unit of acceleration, came nothing"),
        ('column = "az"', 'front_left = "az"', "specific_force_z has no corners; expected column = ..."),
        ('front_left = "fl"', 'column = "fl"', "shaft_travel has four corners"),
        ('[mode]\ncolumn = "mode"\n', '[mode]\ncolumn = "mode"\nconstant = "dash"\n', "either a column or one mode throughout"),
        ('names = { 0 = "patrol", 1 = "dash" }', "", "expected a table from recorded value to drive mode"),
        ('[time]\ncolumn = "t"', '[time]\nrate_hz = 100\ncolumn = "t"', "either a column of stamps or a fixed rate"),
        ('[time]\ncolumn = "t"\nunit = "s"', '[time]\ncolumn = "t"\nunit = "mm"', "expected a unit of time"),
        ("sign = -1, offset = 5", 'sign = -1, offset = "5"', "expected a number, came '5'"),
        ("[run]", "[rum]", "unknown key; did you mean 'run'?"),
    ],
)
def test_one_fault_is_one_line_that_names_it(tmp_path: Path, was: str, becomes: str, told: str) -> None:
    assert was in MAP
    lines = problems(tmp_path, MAP.replace(was, becomes))
    assert any(told in line for line in lines), lines


def test_one_speed_may_serve_four_wheels_when_the_map_says_so(tmp_path: Path) -> None:
    wheels = '[signals.wheel_speed]\nunit = "km/h"\nfront_left = "v"\nfront_right = "v"\nrear_left = "v"\nrear_right = "v"\n'
    assert len(problems(tmp_path, MAP + wheels)) == 3
    assert sum(channel.columns == ("v",) for channel in write_map(tmp_path, MAP + wheels + "shared = true\n").channels) == 4


def test_a_missing_channel_is_one_line_with_what_was_looked_for_and_near_misses(tmp_path: Path) -> None:
    resolved = resolve(write_map(tmp_path), groups(["t", "mode", "AZ", "fl", "fr", "rl", "rr", "wz"]), "run.csv")
    (line,) = resolved.missing["specific_force_z"]
    assert line == f"specific_force_z: looked for 'az', 'acc z' ({tmp_path / 'map.toml'}: signals.specific_force_z); near misses: 'AZ'"


def test_a_column_that_occurs_twice_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="'az' occurs 2 times"):
        resolve(write_map(tmp_path), groups(["t", "mode", "az", "az", "fl", "fr", "rl", "rr", "wz"]), "run.csv")


def test_no_time_and_no_mode_column_are_told_together(tmp_path: Path) -> None:
    with pytest.raises(SeveralBadInputs) as caught:
        resolve(write_map(tmp_path), groups(["az"]), "run.csv")
    assert len(caught.value.problems) == 2


def test_logged_states_and_commands_get_rows_of_their_own(tmp_path: Path) -> None:
    text = MAP + '[states.airborne]\ncolumn = "air"\n[commands.rebound]\nunit = "%"\nfront_left = "a"\nfront_right = "b"\nrear_left = "c"\n'
    layout = write_map(tmp_path, text).layout
    assert layout.rows["logged_rebound"].stop - layout.rows["logged_rebound"].start == 4
    assert layout.rows["logged_airborne"].stop == layout.size


def test_the_shipped_maps_can_be_read() -> None:
    maps = sorted((shipped_calibrations() / "channel_maps").glob("*.toml"))
    assert maps
    for path in maps:
        channels = read_channel_map(path).channels
        assert np.isfinite([channel.gain for channel in channels]).all()

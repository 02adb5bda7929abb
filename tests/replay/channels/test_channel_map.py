"""Channel maps: what a column becomes, and how a wrong map is told: all problems at once, each with its key."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.shipped import shipped_calibrations
from replay.channels.channel_map import resolve
from replay.channels.channel_map_file import read_channel_map
from replay.channels.convert import to_si
from replay.formats.file_form import FileForm
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


AXES = """
[signals.specific_force_x]
column = "ax"
unit = "g"
[signals.specific_force_y]
column = "ay"
unit = "g"
[signals.roll_rate]
column = "wx"
unit = "deg/s"
[signals.pitch_rate]
column = "wy"
unit = "deg/s"
"""


@pytest.mark.parametrize(
    ("unit", "dimension", "gain"),
    [("inch", "mm", 0.0254), ("ft", "mm", 0.3048), ("mph", "km/h", 0.44704), ("m/s^2", "g", 1.0), ("rpm", "deg/s", 0.104719755)],
)
def test_units_of_the_library_serve_as_well_as_ours(tmp_path: Path, unit: str, dimension: str, gain: float) -> None:
    wheels = '[signals.wheel_speed]\nunit = "km/h"\nfront_left = "v"\n'
    channels = write_map(tmp_path, (MAP + wheels).replace(f'unit = "{dimension}"', f'unit = "{unit}"')).channels
    assert any(math.isclose(abs(channel.gain), gain, rel_tol=1e-8) for channel in channels)


def test_a_unit_of_another_dimension_names_both(tmp_path: Path) -> None:
    assert any(
        "expected a unit of length, came 'psi', a unit of pressure" in line for line in problems(tmp_path, MAP.replace('"mm"', '"psi"'))
    )


def test_curve_latency_and_group_are_said_for_all_corners_or_by_corner(tmp_path: Path) -> None:
    text = MAP.replace('unit = "mm"\n', 'unit = "mm"\ncurve = [[0.5, 0], [4.5, 300]]\nlatency_ms = 4\ngroup = "fast"\n')
    text = text.replace('rear_left = "rl"', 'rear_left = { column = "rl", latency_ms = -2.5, curve = [[4, 0], [0, 250]], group = "slow" }')
    by_corner = {channel.corner: channel for channel in write_map(tmp_path, text).channels if channel.name == "shaft_travel"}
    assert (by_corner[0].curve, by_corner[0].latency, by_corner[0].group) == (((0.5, 0.0), (4.5, 300.0)), 0.004, "fast")
    assert (by_corner[2].curve, by_corner[2].latency, by_corner[2].group) == (((4.0, 0.0), (0.0, 250.0)), -0.0025, "slow")


@pytest.mark.parametrize(
    ("curve", "told"),
    [
        ("[[1, 0]]", "expected two or more pairs"),
        ("[[1, 0], [2]]", "expected two or more pairs"),
        ("[]", "expected two or more pairs"),
        ('"steep"', "expected two or more pairs"),
        ("[[1, 0], [1, 5]]", "recorded values that only rise or only fall, came 1 after 1"),
        ("[[1, 0], [3, 5], [2, 6]]", "recorded values that only rise or only fall, came 2 after 3"),
        ("[[1, 0], [nan, 5]]", "expected two or more pairs"),
    ],
)
def test_a_curve_that_can_not_be_looked_up_is_told(tmp_path: Path, curve: str, told: str) -> None:
    lines = problems(tmp_path, MAP.replace('unit = "mm"\n', f'unit = "mm"\ncurve = {curve}\n'))
    assert any(told in line and "signals.shaft_travel" in line for line in lines), lines


def test_the_marker_button_is_a_signal_that_no_controller_sees(tmp_path: Path) -> None:
    channel_map = write_map(tmp_path, MAP + '[marker]\ncolumn = "btn"\non_above = 2.5\nbridge_ms = 50\n')
    (channel,) = [channel for channel in channel_map.channels if channel.name == "marker"]
    assert (channel.on_above, channel.bridge, channel.key) == (2.5, 0.05, "marker")
    assert next(signal for signal in channel_map.layout.signals if signal.name == "marker").seen is False
    assert any("unknown key" in line for line in problems(tmp_path, MAP + '[marker]\ncolumn = "btn"\nsign = -1\n'))


def test_what_the_map_says_of_the_text_of_a_file(tmp_path: Path) -> None:
    form = write_map(
        tmp_path, MAP + '[file]\ndelimiter = ";"\ndecimal = ","\nencoding = "latin-1"\nheader_line = 3\nlines_below_header = 1\n'
    ).form
    assert form == FileForm(";", True, "iso8859-1", 3, 1)
    assert write_map(tmp_path).form == FileForm()


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('delimiter = ";;"', "expected one character"),
        ('decimal = ";"', 'expected "," or "."'),
        ('encoding = "utf-9"', "expected the name of an encoding"),
        ("header_line = 1.5", "expected a whole number"),
        ("decimal_comma = true", "unknown key"),
    ],
)
def test_what_can_not_be_said_of_a_file(tmp_path: Path, line: str, told: str) -> None:
    assert any(told in found and ": file." in found for found in problems(tmp_path, f"{MAP}[file]\n{line}\n"))


def test_how_a_unit_is_mounted_comes_in_metres_and_axes(tmp_path: Path) -> None:
    unit = '[inertial_unit]\nforward = "-y"\nleft = "x"\nup = "z"\nposition_mm = { forward = -250, up = 120 }\nderivative_hz = 15\n'
    mounting = write_map(tmp_path, MAP + AXES + unit).mounting
    assert mounting is not None
    assert mounting.axes == ((0.0, -1.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    assert mounting.position == (-0.25, 0.0, 0.12)
    assert mounting.derivative_hz == 15.0
    assert write_map(tmp_path).mounting is None


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        (
            'forward = "x"\nleft = "y"\nup = "-z"',
            "is a left-handed set of axes; expected a right-handed one: most likely one way is turned round: left = '-y'",
        ),
        ('forward = "x"\nleft = "x"\nup = "z"', "expected x, y and z once each, came forward x, left x, up z"),
        ('forward = "x"\nleft = "y"', "expected the unit's axis that points up in the vehicle, one of x, -x"),
        ('forward = "front"\nleft = "y"\nup = "z"', "expected the unit's axis that points forward"),
        ('forward = "x"\nleft = "y"\nup = "z"\nturned_deg = { yaw = 90 }', "either the axes (forward, left, up) or the angles, came both"),
        ("turned_deg = { yew = 90 }", "unknown key; did you mean 'yaw'?"),
        ("position_mm = { forward = 1e9 }", "expected -10000 to 10000"),
    ],
)
def test_a_mounting_that_can_not_be(tmp_path: Path, lines: str, told: str) -> None:
    found = problems(tmp_path, f"{MAP}{AXES}[inertial_unit]\n{lines}\n")
    assert any(told in line and "inertial_unit" in line for line in found), found


def test_a_place_away_from_the_centre_of_gravity_needs_its_gyros(tmp_path: Path) -> None:
    text = (
        MAP
        + AXES.replace("signals.pitch_rate", "signals.driver_trim").replace('unit = "deg/s"', "")
        + "[inertial_unit]\nposition_mm = { up = 300 }\n"
    )
    assert any(
        "expected signals.roll_rate, signals.pitch_rate in this map" in line
        for line in problems(tmp_path, text.replace("roll_rate", "brake"))
    )
    # forces along y and z alone: to the left of the centre nothing but roll and yaw take part
    some = MAP + '[signals.roll_rate]\ncolumn = "wx"\nunit = "deg/s"\n[inertial_unit]\nposition_mm = { forward = 300 }\n'
    assert any("expected signals.pitch_rate in this map" in line for line in problems(tmp_path, some))


def test_a_name_in_several_groups_needs_its_group_and_is_found_there(tmp_path: Path) -> None:
    fast, slow = ["t", "mode", "fl", "fr", "rl", "rr", "wz"], ["t", "az", "wz"]
    with pytest.raises(
        BadInput, match=r"column 'wz' is in several groups, 'group 1', 'group 2'; say which with group = ... in .*signals.yaw_rate"
    ):
        resolve(write_map(tmp_path), groups(fast, slow), "run.mf4")
    resolved = resolve(write_map(tmp_path, MAP.replace('column = "wz"', 'column = "wz"\ngroup = "group 2"')), groups(fast, slow), "run.mf4")
    assert {found.channel.name: found.group for found in resolved.found} == {"shaft_travel": 0, "specific_force_z": 1, "yaw_rate": 1}
    assert (resolved.time_columns, resolved.mode_column, resolved.mode_group) == (("t", "t"), "mode", 0)


def test_a_group_that_the_recording_has_not_is_a_missing_channel(tmp_path: Path) -> None:
    text = MAP.replace('column = "wz"', 'column = "wz"\ngroup = "gyros"')
    resolved = resolve(write_map(tmp_path, text), groups(["t", "mode", "az", "fl", "fr", "rl", "rr", "wz"]), "run.csv")
    assert "looked for 'wz' in group 'gyros'" in resolved.missing["yaw_rate"][0]


def test_time_is_asked_for_only_where_a_channel_lies_and_no_clock_runs(tmp_path: Path) -> None:
    used = ["t", "mode", "az", "fl", "fr", "rl", "rr", "wz"]
    assert resolve(write_map(tmp_path), groups(used, ["oil"]), "run.mf4").time_columns == ("t", "")
    with pytest.raises(BadInput, match="no column for time in group 'group 2': looked for 't'"):
        resolve(write_map(tmp_path), groups(used[:-1], ["wz"]), "run.mf4")
    own_clock = write_map(tmp_path, MAP.replace('column = "t"\nunit = "s"\n', ""))
    assert resolve(own_clock, groups(used[1:], clock="master"), "run.mf4").time_columns == ("",)
    with pytest.raises(BadInput, match=r"has no clock of its own; expected a column, or rate_hz, in .*map.toml: time"):
        resolve(own_clock, groups(used), "run.csv")


def test_the_shipped_maps_can_be_read() -> None:
    maps = sorted((shipped_calibrations() / "channel_maps").glob("*.toml"))
    assert maps
    for path in maps:
        channels = read_channel_map(path).channels
        assert np.isfinite([channel.gain for channel in channels]).all()


def test_the_shipped_example_of_all_that_a_map_can_say() -> None:
    channel_map = read_channel_map(shipped_calibrations() / "channel_maps" / "workshop_logger.toml")
    by_key = {channel.key: channel for channel in channel_map.channels}
    assert channel_map.form == FileForm(";", True, "", 0, 1)
    assert channel_map.mounting is not None
    assert channel_map.mounting.position == (-0.42, 0.03, 0.18)
    assert by_key["marker"].on_above == 2.5
    assert by_key["signals.wheel_speed.rear_left"].latency == 0.012
    turned_round = by_key["signals.shaft_travel.rear_right"]
    volts, travel = np.array([4.5, 0.5]), np.empty(2)
    to_si(volts, turned_round, travel)
    np.testing.assert_allclose(travel, [0.0, 0.3], atol=1e-15)

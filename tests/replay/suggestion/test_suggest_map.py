"""Suggested maps: every column that is one is found, none is wrong and sure, and what can't be told is asked for."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from dualduty.errors import BadInput
from dualduty.shipped import shipped_calibrations
from replay.channels.channel_map import resolve
from replay.channels.channel_map_file import read_channel_map
from replay.formats.file_form import FileForm
from replay.open_recording import open_recording
from replay.suggestion.inspection import Inspection, inspect_recording
from replay.suggestion.suggest_map import suggest, upward
from replay.suggestion.suggest_weigh import SURE, UNSURE, Guess
from replay.suggestion.suggested_file import suggested_file
from tests.replay import foreign_recordings as foreign
from tests.replay import made_up_recordings as made_up

MODES = ("patrol", "dash", "haul")
Logger = Callable[[], tuple[made_up.HeldRecording, dict[str, str]]]
LOGGERS = [made_up.workshop_logger, made_up.bus_logger, made_up.garage_logger]


def guessed(seen: Inspection) -> dict[str, Guess]:
    return {guess.channel.name: guess for guess in suggest(seen)}


def wrong_and_sure(guesses: dict[str, Guess], meant: dict[str, str]) -> list[str]:
    return [name for name, guess in guesses.items() if guess.grade == SURE and meant.get(name) != guess.target.label]


@pytest.mark.parametrize("logger", LOGGERS)
def test_made_up_loggers_are_read_whole_and_nothing_wrong_is_sure(logger: Logger) -> None:
    recording, meant = logger()
    guesses = guessed(inspect_recording(recording))
    assert {name: guesses[name].target.label for name in meant if name in guesses} == meant
    assert wrong_and_sure(guesses, meant) == []
    strangers = set(guesses) - set(meant)
    assert all(guesses[name].grade == UNSURE for name in strangers), strangers


def test_what_units_and_names_leave_no_doubt_of_is_sure() -> None:
    recording, meant = made_up.workshop_logger()
    grades = {name: guess.grade for name, guess in guessed(inspect_recording(recording)).items()}
    assert [name for name in meant if grades[name] != SURE] == ["BrkPress"]  # psi is no share of full braking


def test_what_the_log_can_not_tell_is_asked_for() -> None:
    guesses = guessed(inspect_recording(made_up.garage_logger()[0]))
    assert "recorded in V: give the sensor's curve" in guesses["Federweg_VL [V]"].doubt
    assert "no unit in the log; km/h or m/s?" in guesses["v_VL"].doubt
    assert "z reads -1 g" in guesses["gz"].doubt
    assert "angle of the steering wheel" in guessed(inspect_recording(made_up.bus_logger()[0]))["swa"].doubt


def test_one_travel_turned_round_is_asked_about_the_others_are_not() -> None:
    si = made_up.motion()
    columns = {
        f"travel_{label}_mm": ("", 1e3 * si[f"shaft_travel {corner}"])
        for label, corner in zip(("fl", "fr", "rl", "rr"), made_up.CORNERS, strict=True)
    }
    columns["travel_rl_mm"] = ("", 300.0 - 0.4 * columns["travel_rl_mm"][1])
    guesses = guessed(inspect_recording(made_up.recording_of({"time_s": ("", si["time"]), **columns})))
    assert {name for name, guess in guesses.items() if guess.grade != SURE} == {"travel_rl_mm"}
    assert "turned round" in guesses["travel_rl_mm"].doubt


def test_the_pairing_is_the_best_of_all_not_the_best_of_each() -> None:
    """Two columns, two signals: the one that fits both must leave the other its only place."""
    si = made_up.motion()
    columns = {
        "time_s": ("", si["time"]),
        "speed_fl": ("m/s", si["wheel_speed front_left"]),
        "wheel_speed_fl": ("m/s", si["wheel_speed front_left"]),
    }
    guesses = guessed(inspect_recording(made_up.recording_of(columns)))
    assert set(guesses) == {"wheel_speed_fl"}
    both = {
        "time_s": ("", si["time"]),
        "pedal": ("%", 90 * si["throttle"]),
        "brake_pedal": ("%", 90 * si["brake"]),
        "throttle": ("%", 90 * si["throttle"]),
    }
    assert {name: guess.target.name for name, guess in guessed(inspect_recording(made_up.recording_of(both))).items()} == {
        "brake_pedal": "brake", "throttle": "throttle",
    }  # fmt: skip


def test_two_columns_that_fit_alike_are_both_named() -> None:
    si = made_up.motion()
    columns = {"time_s": ("", si["time"]), "yaw_rate": ("deg/s", 57.3 * si["yaw_rate"]), "yaw_rate_filt": ("deg/s", 57.3 * si["yaw_rate"])}
    (guess,) = guessed(inspect_recording(made_up.recording_of(columns))).values()
    assert guess.grade != SURE
    assert "also possible: 'yaw_rate" in guess.doubt


@pytest.mark.parametrize(("turn", "up"), [("xyz", "z"), ("zyx", "x"), ("xzy", "y")])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_gravity_tells_which_axis_points_up(turn: str, up: str, sign: float) -> None:
    si = made_up.motion()
    columns = {f"acc_{axis}": ("m/s2", sign * si[f"specific_force_{of}"]) for axis, of in zip("xyz", turn, strict=True)}
    guesses = suggest(inspect_recording(made_up.recording_of({"time_s": ("", si["time"]), **columns})))
    assert upward(guesses) == (up if sign > 0 else f"-{up}")
    assert all(guess.grade == (SURE if (up, sign) == ("z", 1.0) else UNSURE) for guess in guesses)


def test_the_shipped_log_is_mapped_as_its_own_map_says() -> None:
    shipped = shipped_calibrations()
    recording = open_recording(shipped / "logs" / "quarry_loop_dash.csv", FileForm())
    own = resolve(read_channel_map(shipped / "channel_maps" / "marram_logger.toml"), recording.groups, "demo")
    meant = {found.column: found.label.replace("logged_", "state ") for found in own.found}
    guesses = guessed(inspect_recording(recording))
    assert {name: guess.target.label for name, guess in guesses.items()} == meant
    assert [name for name, guess in guesses.items() if guess.grade != SURE] == ["travel_rr_mm"]  # mounted the other way round
    gains = {found.column: abs(found.channel.gain) for found in own.found}
    assert all(np.isclose(guess.si(1.0) - guess.si(0.0), gains[name]) for name, guess in guesses.items())


@pytest.mark.network
@pytest.mark.parametrize("member", [foreign.HAND_WAVED, foreign.STAMPED])
def test_a_recording_that_nobody_here_made(member: str) -> None:
    try:
        path = foreign.recording(member)
    except foreign.NotReachable as reason:
        pytest.skip(str(reason))
    guesses = guessed(inspect_recording(open_recording(path, FileForm())))
    about = dict(zip("XYZ", ("roll_rate", "pitch_rate", "yaw_rate"), strict=True))
    meant = {f"Accelerometer {axis} (g)": f"specific_force_{axis.lower()}" for axis in "XYZ"}
    meant |= {f"Gyroscope {axis} (deg/s)": about[axis] for axis in "XYZ"}
    assert {name: guess.target.label for name, guess in guesses.items()} == meant


@pytest.mark.parametrize("logger", LOGGERS)
def test_the_file_is_a_map_once_the_mode_is_settled(logger: Logger, tmp_path: Path) -> None:
    recording, meant = logger()
    seen = inspect_recording(recording)
    guesses = suggest(seen)
    text = suggested_file(seen, guesses, MODES)
    path = tmp_path / "suggested.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match="mode"):
        read_channel_map(path)
    head, rest = text.split("[mode]\n", 1)
    path.write_text(f'{head}[mode]\nconstant = "dash"\n\n' + rest.split("\n\n", 1)[1], encoding="utf-8")
    found = {found.column: found.label for found in resolve(read_channel_map(path), recording.groups, "log").found}
    live = {guess.channel.name: meant[guess.channel.name] for guess in guesses if guess.grade != UNSURE}
    spoken = {name: label.replace("logged_", "") for name, label in found.items()}
    assert spoken == {name: label.replace("command ", "").replace("state ", "") for name, label in live.items()}


def test_all_that_is_unsure_is_commented_out_and_says_why() -> None:
    seen = inspect_recording(made_up.garage_logger()[0])
    lines = suggested_file(seen, suggest(seen), MODES).splitlines()
    assert tomllib.loads("\n".join(lines))["time"]["column"] == "Zeit"
    for guess in (guess for guess in suggest(seen) if guess.grade == UNSURE):
        (line,) = [line for line in lines if guess.channel.name in line and "=" in line and guess.channel.name + '"' in line]
        assert line.startswith("# ")
        assert guess.ask[0] in line
    assert '# up = "-z"' in lines
    assert "bridge_ms" not in "\n".join(line for line in lines if not line.startswith("#"))


def test_a_slow_channel_is_bridged_and_a_name_in_two_groups_has_its_group() -> None:
    si, slower = made_up.motion(), made_up.motion(20.0)
    fast = {"brake": ("%", made_up.slow(90 * si["brake"], 5)), "yaw_rate": ("deg/s", 57.3 * si["yaw_rate"])}
    recording = made_up.recording_of(fast, {"yaw_rate": ("deg/s", 57.3 * slower["yaw_rate"])}, clocks=(si["time"], slower["time"]))
    seen = inspect_recording(recording)
    table = tomllib.loads(suggested_file(seen, suggest(seen), MODES))["signals"]
    assert table["brake"]["bridge_ms"] == 50  # twice 25 ms, at 40 values a second
    assert table["yaw_rate"]["group"] == "group 1"  # the faster one


def test_a_slow_channel_that_is_unsure_is_bridged_once_its_comment_is_taken_away() -> None:
    si = made_up.motion()
    slow = {"travel_fl": ("V", made_up.slow(0.5 + si["shaft_travel front_left"], 4)), "yaw_rate": ("deg/s", 57.3 * si["yaw_rate"])}
    seen = inspect_recording(made_up.recording_of(slow, clocks=(si["time"],)))
    text = suggested_file(seen, suggest(seen), MODES)
    taken = text.replace("# [signals", "[signals").replace("# bridge", "bridge").replace("# front_left", "front_left")
    assert "shaft_travel" not in tomllib.loads(text)["signals"]
    assert tomllib.loads(taken)["signals"]["shaft_travel"] == {"bridge_ms": 40, "front_left": "travel_fl"}


def test_a_unit_in_a_row_of_its_own_says_as_much_as_one_in_the_name() -> None:
    si = made_up.motion()
    columns = {"lateral": ("m/s²", si["specific_force_y"]), "Roll": ("deg/s", 57.3 * si["roll_rate"])}
    guesses = guessed(inspect_recording(made_up.recording_of(columns, clocks=(si["time"],))))
    assert {name: (guess.target.label, guess.grade) for name, guess in guesses.items()} == {
        "lateral": ("specific_force_y", SURE), "Roll": ("roll_rate", SURE),
    }  # fmt: skip


def test_one_speed_is_offered_for_four_wheels_and_not_taken(tmp_path: Path) -> None:
    si = made_up.motion()
    columns = {"time_s": ("", si["time"]), "GPSSpeed": ("mph", si["wheel_speed front_left"]), "brake": ("%", 90 * si["brake"])}
    seen = inspect_recording(made_up.recording_of(columns))
    text = suggested_file(seen, suggest(seen), MODES)
    assert "wheel_speed" not in tomllib.loads(text)["signals"]
    path = tmp_path / "map.toml"
    taken = (
        text.replace("# constant", "constant")
        .replace("# [signals.wheel", "[signals.wheel")
        .replace("# unit", "unit")
        .replace("# shared", "shared")
    )
    path.write_text("\n".join(line.removeprefix("# ") if "GPSSpeed" in line else line for line in taken.splitlines()), encoding="utf-8")
    assert sum(channel.columns == ("GPSSpeed",) for channel in read_channel_map(path).channels) == 4


def test_words_in_the_mode_column_are_its_modes() -> None:
    si = made_up.motion()
    words = np.where(si["time"] < 5.0, "patrol", "dash").astype(object)
    columns = {"time_s": ("", si["time"]), "drive_mode": ("", words)}
    seen = inspect_recording(made_up.recording_of(columns))
    assert tomllib.loads(suggested_file(seen, suggest(seen), MODES))["mode"] == {
        "column": "drive_mode",
        "names": {"patrol": "patrol", "dash": "dash"},
    }

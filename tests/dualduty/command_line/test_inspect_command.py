"""The command `inspect` as a user meets it."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from dualduty.command_line import cli
from dualduty.errors import BadInput
from dualduty.shipped import shipped_calibrations

LOGS = shipped_calibrations() / "logs"
MAPS = shipped_calibrations() / "channel_maps"


def said(*arguments: object) -> str:
    result = CliRunner().invoke(cli, ["inspect", *map(str, arguments), "--quiet"], catch_exceptions=False)
    assert result.exit_code == 0
    return result.output


@pytest.fixture(scope="module")
def short_log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six seconds of the demo log without its yaw rate, and with a note in a column of words."""
    lines = (LOGS / "quarry_loop_dash.csv").read_text(encoding="utf-8").splitlines()[1:1200]
    gone = lines[0].split(",").index("yaw_rate_deg_s")
    kept = [",".join(cell for at, cell in enumerate(line.split(",")) if at != gone) for line in lines]
    path = tmp_path_factory.mktemp("logs") / "short.csv"
    path.write_text("\n".join([f"{kept[0]},note", *(f"{line},rough" for line in kept[1:])]) + "\n", encoding="utf-8")
    return path


def test_channels_guesses_and_what_is_missing(short_log: Path, tmp_path: Path) -> None:
    output = said(short_log, "--out", tmp_path, "--write-map", tmp_path / "new.toml")
    lines = output.splitlines()
    assert lines[0].startswith("short.csv: 1198 samples, ")
    assert "stamps in 'time_s' [s], no gaps" in lines[0]
    wheel = next(line for line in lines if line.startswith("wheel_speed_rl_km_h"))
    assert wheel.split()[1:3] == ["km/h", "51"]  # a value in every fourth sample
    assert "75 %" in wheel
    assert wheel.rstrip().endswith("wheel_speed rear_left, sure")
    assert next(line for line in lines if line.startswith("note ")).rstrip().endswith("words")
    assert "  unsure: shaft_travel rear_right from 'travel_rr_mm': its middle is far from that of the other corners" in output
    assert any(line.startswith("side_slope, side_slope_upper: can't tell without") and "yaw_rate (has no column)" in line for line in lines)
    assert (tmp_path / "channels_short.png").read_bytes().startswith(b"\x89PNG")
    suggested = tomllib.loads((tmp_path / "new.toml").read_text(encoding="utf-8"))
    assert suggested["signals"]["wheel_speed"]["bridge_ms"] == 39
    assert "rear_right" not in suggested["signals"]["shaft_travel"]


def test_a_map_that_lies_there_is_not_written_over(short_log: Path, tmp_path: Path) -> None:
    (tmp_path / "ours.toml").write_text("# a day's work\n", encoding="utf-8")
    result = CliRunner().invoke(cli, ["inspect", str(short_log), "--write-map", str(tmp_path / "ours.toml"), "--quiet"])
    assert isinstance(result.exception, BadInput)
    assert "exists already; expected the name of a new file" in str(result.exception)
    assert (tmp_path / "ours.toml").read_text(encoding="utf-8") == "# a day's work\n"


def test_a_channel_without_a_value_has_no_range(short_log: Path, tmp_path: Path) -> None:
    lines = [line.split(",") for line in short_log.read_text(encoding="utf-8").splitlines()]
    blank, few = lines[0].index("travel_fl_mm"), lines[0].index("accel_z_g")
    for number, cells in enumerate(lines[1:]):
        cells[blank] = ""
        cells[few] = cells[few] if number < 5 else ""
    (tmp_path / "blank.csv").write_text("\n".join(map(",".join, lines)) + "\n", encoding="utf-8")
    output = said(tmp_path / "blank.csv")
    assert next(line for line in output.splitlines() if line.startswith("travel_fl_mm")).split()[3:8] == ["-", "-", "-", "all", "-"]
    assert "> 99 %" in next(line for line in output.splitlines() if line.startswith("accel_z_g"))
    assert "nan" not in output


def test_what_a_map_finds_and_misses(short_log: Path) -> None:
    output = said(
        short_log, "--map", MAPS / "marram_logger.toml", "--calibration", shipped_calibrations() / "strategies" / "marram_baseline.toml"
    )
    assert "marram_logger.toml: 25 channels found" in output
    assert "missing: yaw_rate: looked for 'yaw_rate_deg_s'" in output.replace("\n", " ")
    assert "for want of one or more of yaw_rate, driver_trim: " in output
    assert "layer 'corner support'" in output


def test_a_folder_of_files_that_each_begin_anew_is_one_log(short_log: Path, tmp_path: Path) -> None:
    for name in ("run_1.csv", "run_2.csv"):
        (tmp_path / name).write_text(short_log.read_text(encoding="utf-8"), encoding="utf-8")
    output = said(tmp_path)
    first = output.splitlines()[0]
    assert first.startswith(f"{tmp_path.name}: 2396 samples, ")
    assert "1 gap, longest 1000 ms" in first
    assert "backward" not in first
    assert any(line.startswith("  noticed: ") and "run_2.csv" in line for line in output.splitlines())


def test_a_log_by_its_name_brings_its_own_map() -> None:
    output = said("quarry_loop_dash")
    assert "quarry_loop_dash.csv: 6000 samples" in output
    assert "marram_logger.toml: 26 channels found" in output


def test_a_map_that_does_not_fit_is_told_and_the_log_is_shown_all_the_same(short_log: Path, tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(
        '[time]\ncolumn = "tyme"\nunit = "s"\n[mode]\nconstant = "dash"\n[signals.brake]\ncolumn = "brake_pct"\nunit = "%"\n',
        encoding="utf-8",
    )
    output = said(short_log, "--map", wrong)
    assert "missing:" in output
    assert "no column for time: looked for 'tyme'; near misses: 'time_s'" in output.replace("\n", " ")
    assert "brake_pct" in output


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("nowhere.csv",), "expected a recording, found no file"),
        (("quarry_loop_dahs",), "did you mean 'quarry_loop_dash'"),
        (("quarry_loop_dash", "--map", "nowhere.toml"), "expected a TOML file, found no file"),
        (("quarry_loop_dash", "--calibration", "maram_baseline"), "did you mean 'marram_baseline'"),
    ],
)
def test_what_can_not_be_used_is_one_line(arguments: tuple[str, ...], told: str) -> None:
    with pytest.raises(BadInput, match=told) as caught:
        CliRunner().invoke(cli, ["inspect", *arguments], catch_exceptions=False)
    assert "\n" not in str(caught.value)


def test_a_map_to_try_and_a_map_to_write_are_two_things(short_log: Path) -> None:
    result = CliRunner().invoke(cli, ["inspect", str(short_log), "--map", "a.toml", "--write-map", "b.toml"])
    assert result.exit_code == 2
    assert "expected either --map" in result.output

"""A measured profile as a piece of ground, by itself and from a section file."""

from __future__ import annotations

import pickle
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.errors import BadInput
from plant.section import read_section
from plant.terrain.measured_profile import MeasuredProfile

Array = NDArray[np.float64]

STEP = 0.05
ALONG = STEP * np.arange(1200, dtype=np.float64) - 10.0
RANDOM = np.random.default_rng(0)
BANK = 0.1  # m, left over right
CLIMB = 0.02


def bumpy(distance: Array) -> Array:
    return 0.05 * np.sin(2 * np.pi * distance / 2.5)


@pytest.fixture
def lane(tmp_path: Path) -> Path:
    """40 m from 100 m on: a wave on a climb, left over right by a bank."""
    at = 100.0 + 0.02 * np.arange(2001, dtype=np.float64)
    middle = bumpy(at) + CLIMB * at
    path = tmp_path / "lane.csv"
    rows = np.column_stack([at, 1e3 * (middle + 0.5 * BANK), 1e3 * (middle - 0.5 * BANK)])
    np.savetxt(path, rows, fmt="%.6f", delimiter=",", header="distance_m,left_mm,right_mm", comments="")
    return path


def test_starts_level_ends_level_and_carries_the_wave_between(lane: Path) -> None:
    left, right = MeasuredProfile(str(lane), fade=3.0).heights(ALONG, RANDOM)
    assert not left[(ALONG < 0) | (ALONG > 40.0)].any()
    middle = (ALONG > 3.0) & (ALONG < 37.0)
    # atol: the line through 16 waves of 50 mm tilts and lifts by up to 3 mm; 1e-6 m is the file's last digit
    np.testing.assert_allclose(0.5 * (left + right)[middle], bumpy(ALONG + 100.0)[middle], atol=4e-3)
    np.testing.assert_allclose((left - right)[middle], BANK, atol=1e-6)
    assert np.abs(np.diff(left)).max() < STEP * (2 * np.pi / 2.5 * 0.05 + 0.5 * np.pi / 3.0 * 0.1)


def test_without_taking_the_line_out_the_last_height_is_held(lane: Path) -> None:
    left, right = MeasuredProfile(str(lane), detrend="none").heights(ALONG, RANDOM)
    climbed = CLIMB * 40.0 + bumpy(np.array([140.0]))[0] - bumpy(np.array([100.0]))[0]
    # atol: the ends are held before the filter, which then leaves 2 mm of a slope of 0.15 over a step
    np.testing.assert_allclose(left[ALONG > 40.0], climbed + 0.5 * BANK, atol=3e-3)
    np.testing.assert_allclose(right[ALONG > 40.0], climbed - 0.5 * BANK, atol=3e-3)


def test_high_pass_takes_out_the_bank_and_leaves_short_waves(lane: Path) -> None:
    left, right = MeasuredProfile(str(lane), high_pass=10.0).heights(ALONG, RANDOM)
    middle = (ALONG > 10.0) & (ALONG < 30.0)
    # a wave of a quarter of the cut-off keeps 1 - 2^-16 of itself
    np.testing.assert_allclose(left[middle], bumpy(ALONG + 100.0)[middle], atol=1e-3)
    np.testing.assert_allclose(right[middle], left[middle], atol=1e-5)


def test_a_stretch_of_the_file(lane: Path) -> None:
    piece = MeasuredProfile(str(lane), skip=6.0, length=20.0, fade=1.0)
    left, right = piece.heights(ALONG, RANDOM)
    middle = (ALONG > 1.0) & (ALONG < 19.0)
    # atol: the line through 8 waves; 6 m are no whole number of waves, so that a stretch from elsewhere would show
    np.testing.assert_allclose(0.5 * (left + right)[middle], bumpy(ALONG + 106.0)[middle], atol=8e-3)
    assert not left[ALONG > 20.0].any()
    with pytest.raises(ValueError, match=r"lane.csv ends 10 m after 30 m; expected a length of 20 m"):
        MeasuredProfile(str(lane), skip=30.0, length=20.0).heights(ALONG, RANDOM)
    with pytest.raises(ValueError, match=r"5 m of .*lane.csv leave no room for two fades of 3 m"):
        MeasuredProfile(str(lane), length=5.0).heights(ALONG, RANDOM)


SECTION = """
name = "lane_run"
provenance = "invented"
intent = "A measured lane."
watch = ["travel"]
duration_s = 3
seed = 3

[[ground]]
kind = "measured_profile"
start_m = 8
file = "profiles/lane.csv"

[drive]
start_speed_km_h = 36
"""


def written(folder: Path, lane: Path, section: str = SECTION) -> Path:
    (folder / "profiles").mkdir()
    lane.rename(folder / "profiles" / "lane.csv")
    path = folder / "lane_run.toml"
    path.write_text(section, encoding="utf-8")
    return path


def test_file_is_found_from_the_section_files_folder(tmp_path: Path, lane: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(tmp_path, lane)
    monkeypatch.chdir(tmp_path.parent)
    section = read_section(path)
    ground = section.build().ground
    assert np.ptp(ground.left) > 0.1
    (tmp_path / "profiles" / "lane.csv").unlink()  # read once, and carried to other processes
    assert np.array_equal(pickle.loads(pickle.dumps(section)).build().ground.left, ground.left)  # noqa: S301 - our own


@pytest.mark.parametrize(
    ("was", "becomes", "said"),
    [
        ("profiles/lane.csv", "lane.csv", r"lane_run.toml: ground\[0\].file: found no file 'lane.csv' in "),
        ('"profiles/lane.csv"', "3", r"ground\[0\].file: expected the name of a file, came 3"),
        ('file = "profiles/lane.csv"', "", r"ground\[0\].file: expected profile file with the columns distance_m, left_mm, right_mm"),
        ("file =", "flie =", r"ground\[0\].flie: unknown key; did you mean 'file'"),
        ("start_m = 8", "start_m = 8\nskip_m = 50", r"ground\[0\]: .*lane.csv ends 0 m after 50 m"),
    ],
)
def test_what_is_said_of_a_wrong_section(tmp_path: Path, lane: Path, was: str, becomes: str, said: str) -> None:
    assert was in SECTION
    with pytest.raises(BadInput, match=said):
        read_section(written(tmp_path, lane, SECTION.replace(was, becomes)))


def test_a_bad_row_is_told_with_the_profiles_name(tmp_path: Path, lane: Path) -> None:
    path = written(tmp_path, lane)
    profile = tmp_path / "profiles" / "lane.csv"
    profile.write_text("distance_m,left_mm,right_mm\n0,0,0\n0.1,1,?\n", encoding="utf-8")
    with pytest.raises(BadInput, match=r"profiles/lane.csv: row 3: expected a number, came '\?'"):
        read_section(path)

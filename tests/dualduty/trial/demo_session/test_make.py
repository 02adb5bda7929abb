"""Demo sessions as a folder: what is in it can be read as any other log, and everything it says of itself is so."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from dualduty.command_line.demo_session_command import command
from dualduty.errors import BadInput
from dualduty.trial.demo_session.logs_folder import CAR, FAULTS, MAP
from dualduty.trial.demo_session.make import CLEAN, FRESH, Asked, make_demo_sessions
from dualduty.trial.demo_session.truth_marks import PEOPLE, STATES
from dualduty.trial.run_sheet import RunSheet, read_run_sheet
from plant.section import list_sections
from replay.marks.marks import TRUTH, read_marks
from tests.dualduty.trial.demo_session.seen_in_file import is_seen, read

SESSIONS = ("session_patrol", "session_dash", "session_haul")
KINDS = {
    "dropout", "lost_samples", "logger_gap", "stuck", "spikes", "saturation", "offset", "quantised", "duplicated_stamp", "backward_stamp",
    "latency",
}  # fmt: skip


def faults_of(folder: Path, name: str) -> list[dict[str, object]]:
    found: list[dict[str, object]] = json.loads((folder / "logs" / f"{name}{FAULTS}").read_text(encoding="utf-8"))["faults"]
    return found


def sheet_of(folder: Path, name: str) -> RunSheet:
    return read_run_sheet(folder / "logs" / f"{name}.toml")


def nobody(_: float) -> None:
    """Takes no notice of progress."""


def digests(folder: Path) -> dict[str, str]:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


@pytest.fixture(scope="module")
def quick(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sessions") / "made"
    make_demo_sessions(folder, Asked(seed=1, quick=True), nobody)
    return folder


def test_every_channel_that_the_map_names_is_in_the_log_and_every_column_is_named(quick: Path) -> None:
    for name in (*SESSIONS, FRESH, CLEAN):
        log = sheet_of(quick, name).open()
        assert log.resolved.missing == {}
        read_columns = {found.column for found in log.resolved.found} | {log.resolved.mode_column, *log.resolved.time_columns}
        assert read_columns == set(log.recording.groups[0].names)


def test_what_is_read_back_is_in_si_and_in_the_drive_mode(quick: Path) -> None:
    log = sheet_of(quick, CLEAN).open()
    rows = log.layout.rows
    travel, weight, modes = [], [], set()
    for part in log.parts():
        for row, values in zip(part.rows, part.values, strict=True):
            if row in range(rows["shaft_travel"].start, rows["shaft_travel"].stop):
                travel.append(values)
            elif row == rows["specific_force_z"].start:
                weight.append(values)
            elif row == log.mode_row:
                modes |= set(values[np.isfinite(values)].tolist())
    assert -0.006 < np.concatenate(travel).min() < 0.03  # m, a sensor's offset below full extension at most
    assert 0.15 < np.concatenate(travel).max() < 0.29  # m, within the stroke
    assert np.concatenate(weight).mean() == pytest.approx(9.81, abs=0.15)
    assert [log.modes[int(index)] for index in modes] == ["dash"]


def test_every_fault_that_is_listed_is_in_the_file(quick: Path) -> None:
    for name in (*SESSIONS, FRESH):
        log = read(quick / "logs" / f"{name}.csv")
        for fault in faults_of(quick, name):
            if fault["kind"] not in {"turned", "inverted"}:  # told by how signals go together, which half a minute hardly shows
                assert is_seen(fault, log), (name, fault)


def test_no_fault_is_seen_in_the_clean_log_which_is_the_same_drive(quick: Path) -> None:
    clean, spoilt = (read(quick / "logs" / f"{name}.csv") for name in (CLEAN, "session_dash"))
    assert faults_of(quick, CLEAN) == []
    assert [(name, fault) for name in SESSIONS for fault in faults_of(quick, name) if is_seen(fault, clean)] == []
    assert clean.columns.tolist() == spoilt.columns.tolist()
    assert len(clean) > len(spoilt)  # what the gap took
    assert not clean.drop(columns=[name for name in clean if clean[name].isna().sum() > 0.5 * len(clean)]).isna().any().any()
    assert np.diff(clean["time_s"]).min() > 2e-3
    assert np.diff(clean["time_s"]).max() < 8e-3


def test_marks_of_the_truth_are_where_the_signals_show_it(quick: Path) -> None:
    sheet = sheet_of(quick, CLEAN)
    assert sheet.marks is not None
    log = read(sheet.log)
    flights = [mark for mark in read_marks(sheet.marks) if mark.state == "airborne" and mark.counts]
    assert flights
    for mark in flights:
        assert mark.origin == TRUTH
        inside = log[(log["time_s"] > mark.start + 0.02) & (log["time_s"] < mark.end - 0.02)]
        assert inside["accel_z_g"].mean() < 0.35  # hanging wheels pull at the body, so not quite 0
        assert inside["travel_fl_mm"].iloc[-1] < 40.0


def test_sections_follow_one_another_and_the_second_whoops_lacks_a_travel(quick: Path) -> None:
    sheet = sheet_of(quick, FRESH)
    assert sheet.marks is None
    assert [section.name for section in sheet.sections][:2] == ["whoops-1", "whoops-2"]
    lost = next(fault for fault in faults_of(quick, FRESH) if fault["kind"] == "dropout")
    second = sheet.sections[1]
    assert second.start < float(str(lost["start_s"])) < float(str(lost["end_s"])) < second.end
    said = json.loads((quick / "logs" / f"{FRESH}{FAULTS}").read_text(encoding="utf-8"))
    assert len(said["marker_pressed_s"]) == 2


def test_two_people_marked_the_dash_session(quick: Path) -> None:
    people = sheet_of(quick, "session_dash_two_people")
    assert people.marks is not None
    assert people.log == sheet_of(quick, "session_dash").log
    marks = read_marks(people.marks)
    assert {mark.who for mark in marks} == set(PEOPLE)
    assert {mark.state for mark in marks} == {"airborne"} == set(people.marked)


def test_the_folder_says_that_it_is_invented_and_how_the_car_differs(quick: Path) -> None:
    car = json.loads((quick / "logs" / CAR).read_text(encoding="utf-8"))
    assert "nvented" in car["note"]
    for number in ("tyre_rate", "grip", "spring_rate", "compression_scale", "rebound_scale", "friction"):
        assert np.abs(np.array(car["factor_over_marram_2"][number]) - 1.0).max() > 1e-3
    assert car["kit_not_weighed"]["mass_kg"] > 0.0
    for path in (quick / "logs").glob("session_*.toml"):
        assert path.read_text(encoding="utf-8").startswith("# Invented demo data")
    for path in (quick / "logs").glob("*.csv"):
        if not path.name.endswith("marks.csv"):
            assert path.read_text(encoding="utf-8").startswith("# invented demo log")
    assert (quick / "channel_maps" / f"{MAP}.toml").is_file()
    assert (quick / "strategies" / "marram_baseline.toml").is_file()


def test_an_existing_folder_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(BadInput, match="exists already; expected the name of a new folder"):
        make_demo_sessions(tmp_path, Asked(quick=True), nobody)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_nothing_stays_of_a_run_that_is_interrupted(tmp_path: Path) -> None:
    def interrupt(share: float) -> None:
        if share > 0.02:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        make_demo_sessions(tmp_path / "new", Asked(quick=True), interrupt)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_the_same_seed_gives_the_same_bits_in_another_process_and_another_seed_does_not(quick: Path, tmp_path: Path) -> None:
    for name, seed in (("same", "1"), ("other", "2")):
        subprocess.run(
            [sys.executable, "-m", "dualduty", "demo-session", str(tmp_path / name), "--quick", "--seed", seed, "--quiet"], check=True
        )
    assert digests(tmp_path / "same") == digests(quick)
    changed = {name for name, digest in digests(tmp_path / "other").items() if digests(quick)[name] != digest}
    assert {f"logs/{name}.csv" for name in (*SESSIONS, FRESH, CLEAN)} <= changed


@pytest.mark.slow
def test_whole_sessions_hold_every_kind_of_section_state_and_fault(tmp_path: Path) -> None:
    """40 minutes and more, every kind of section in every drive mode, marks of every state, and each fault where it is said to be."""
    folder = tmp_path / "made"
    said = CliRunner().invoke(command, [str(folder), "--seed", "3", "--quiet"], catch_exceptions=False)
    assert said.exit_code == 0
    every = {path.stem for path in list_sections(folder / "sections")}
    assert len(every) >= 32
    minutes, counts, kinds = 0.0, Counter[str](), set()
    for name in SESSIONS:
        sheet, log = sheet_of(folder, name), read(folder / "logs" / f"{name}.csv")
        assert log["time_s"].iloc[-1] > 14 * 60
        minutes += log["time_s"].iloc[-1] / 60
        assert {section.name.rpartition("-")[0] for section in sheet.sections} == every
        assert sheet.marks is not None
        own = Counter(mark.state for mark in read_marks(sheet.marks) if mark.counts)
        assert set(own) == set(STATES), name
        counts += own
        for fault in faults_of(folder, name):
            kinds.add(fault["kind"])
            assert is_seen(fault, log), (name, fault)
    fresh = read(folder / "logs" / f"{FRESH}.csv")
    clean = read(folder / "logs" / f"{CLEAN}.csv")
    for fault in faults_of(folder, FRESH):
        assert is_seen(fault, fresh), fault
        assert not is_seen(fault, clean), fault
    assert minutes > 40
    assert kinds == KINDS
    assert counts["airborne"] >= 15

"""The whole check: on the shipped logs, on planted faults, on recordings nobody here made; the file is left alone."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from dualduty.car import read_car
from dualduty.errors import BadInput
from dualduty.shipped import shipped_calibrations
from replay.array_log import log_of_arrays
from replay.channels.channel_map_file import read_channel_map
from replay.health.check_log import Health, VehicleFacts, check_log
from replay.health.finding import NOTE, SPOILS, in_order
from replay.health.put_right import PutRight, put_right
from replay.open_log import open_log
from tests.replay import foreign_recordings as foreign
from tests.replay.health.hand_made_parts import demo_log, driving, map_file, of_kind, row

SHIPPED = shipped_calibrations()


def facts() -> VehicleFacts:
    car = read_car(SHIPPED / "vehicles" / "marram_2.toml")
    return VehicleFacts(car.wheelbase, car.static_travel, car.hang_travel)


@pytest.mark.parametrize("name", ["quarry_loop_dash", "quarry_loop_patrol"])
def test_a_shipped_log_has_its_dropout_and_nothing_else(name: str) -> None:
    health = check_log(demo_log(name), facts())
    told = [found for found in health.findings if found.severity != NOTE]
    assert [(found.kind, found.channel) for found in told] == [("dropout", "rear-left travel")]
    assert told[0].end - told[0].start == pytest.approx(0.12, abs=0.011)  # a sample or two at 5 ms
    assert {found.kind for found in health.findings} == {"dropout", "missing values"}
    assert health.presses is None
    assert not health.moves


def turned_frame() -> pd.DataFrame:
    frame = pd.read_csv(SHIPPED / "logs" / "quarry_loop_dash.csv", comment="#")
    made = frame.copy()
    made["accel_x_g"], made["accel_y_g"] = frame["accel_y_g"], -frame["accel_x_g"]
    made["roll_rate_deg_s"], made["pitch_rate_deg_s"] = frame["pitch_rate_deg_s"], -frame["roll_rate_deg_s"]
    made["travel_rl_mm"] = 300.0 - frame["travel_rl_mm"]
    return made


@pytest.fixture
def turned(tmp_path: Path) -> Path:
    path = tmp_path / "turned.csv"
    turned_frame().to_csv(path, index=False)
    return path


def checked(path: Path) -> Health:
    return check_log(open_log(path, read_channel_map(SHIPPED / "channel_maps" / "marram_logger.toml")), facts())


def test_both_slips_of_the_map_are_told_together_and_put_right_in_memory(turned: Path) -> None:
    health = checked(turned)
    assert {found.kind for found in health.findings if found.severity == SPOILS} == {"inverted travel", "turned unit"}
    assert {row("shaft_travel", 2), row("specific_force_x"), row("pitch_rate")} <= set(health.moves)
    log = put_right(open_log(turned, read_channel_map(SHIPPED / "channel_maps" / "marram_logger.toml")), health.moves)
    assert isinstance(log, PutRight)
    for righted, sound in zip(log.parts(needed=()), demo_log().parts(needed=()), strict=True):
        if not sound.ended:
            off = np.abs(righted.values - sound.values)  # noqa: PD011 - no frame
            assert np.nanmax(off) < 0.003  # the zero of the inverted travel is found to 1 mm, see test_identity


def test_the_file_is_read_and_nothing_else(turned: Path) -> None:
    turned.chmod(0o444)
    turned.parent.chmod(0o555)
    before = (hashlib.sha256(turned.read_bytes()).hexdigest(), turned.stat().st_mtime_ns, sorted(turned.parent.iterdir()))
    try:
        checked(turned)
    finally:
        turned.parent.chmod(0o755)
    assert before == (hashlib.sha256(turned.read_bytes()).hexdigest(), turned.stat().st_mtime_ns, sorted(turned.parent.iterdir()))


def test_the_worst_comes_first() -> None:
    time, signals = driving(30.0)
    signals["shaft_travel"][1, 1000:1300] = np.nan
    signals["specific_force_z"][3000] += 90.0
    findings = check_log(log_of_arrays(time, signals, "dash")).findings
    assert [found.severity for found in findings] == [found.severity for found in in_order(list(findings))]
    assert (findings[0].kind, findings[-1].severity) == ("dropout", NOTE)


def test_findings_as_rows_have_no_numbers_that_json_does_not_know() -> None:
    time, signals = driving(30.0)
    signals["shaft_travel"][1] *= 1e-3
    signals["yaw_rate"][100:400] = np.nan
    rows = [found.to_row() for found in check_log(log_of_arrays(time, signals, "dash")).findings]
    assert any(each["start"] is None for each in rows)
    assert any(each["start"] == pytest.approx(0.5, abs=0.01) for each in rows)


def test_a_log_of_two_samples_is_one_clear_line() -> None:
    with pytest.raises(BadInput, match=r"expected a log of a second or more, it lasts 0\.005 s"):
        check_log(log_of_arrays(np.array([0.0, 0.005]), {"yaw_rate": np.zeros(2)}, "dash"))


@pytest.mark.network
@pytest.mark.parametrize(("member", "map_text"), [(foreign.HAND_WAVED, foreign.HAND_WAVED_MAP), (foreign.STAMPED, foreign.STAMPED_MAP)])
def test_recordings_without_a_vehicle_are_read_without_a_word_too_much(member: str, map_text: str, tmp_path: Path) -> None:
    """An inertial unit in a hand: no travels, no wheels, no way to say how it is mounted, so nothing is said of it."""
    try:
        path = foreign.recording(member)
    except foreign.NotReachable as reason:
        pytest.skip(str(reason))
    health = check_log(open_log(path, read_channel_map(map_file(tmp_path, map_text))))
    assert of_kind(list(health.findings), "turned unit") == []
    assert [found for found in health.findings if found.kind in {"gap", "dropout", "pause", "stuck", "stamps"}] == []

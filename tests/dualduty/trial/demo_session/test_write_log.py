"""A frame as a file: text, Parquet and a measurement file hold the same numbers."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from dualduty.errors import BadInput
from dualduty.shipped import shipped_calibrations
from dualduty.trial.demo_session import write_log
from dualduty.trial.demo_session.columns import BY_NAME
from dualduty.trial.demo_session.frame import Frame
from dualduty.trial.demo_session.logs_folder import session_map
from dualduty.trial.demo_session.write_log import BUS_DRIFT, EVERY, WRITERS, write_csv, write_mdf, write_parquet
from replay.channels.channel_map_file import read_channel_map
from replay.open_log import open_log


@pytest.fixture
def frame() -> Frame:
    """Four seconds with a gap and a blank."""
    samples = 800
    random = np.random.default_rng(2)
    columns = {name: np.round(random.normal(0.0, 5.0, samples), 6) for name in BY_NAME}
    for name, column in BY_NAME.items():
        columns[name][np.arange(samples) % column.every != 0] = np.nan
    columns["travel_fl_mm"][40:60] = np.nan
    made = Frame(np.arange(samples) / 200.0, columns)
    made.kept[300:360] = False
    return made


def test_text_has_each_columns_digits_and_nothing_where_there_is_no_value(frame: Frame, tmp_path: Path) -> None:
    write_csv(tmp_path / "run.csv", frame, "invented")
    lines = (tmp_path / "run.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0] == "# invented"
    assert len(lines) == 2 + 740
    head, first, second = (dict(zip(lines[1].split(","), line.split(","), strict=True)) for line in lines[1:4])
    assert list(head) == ["time_s", *BY_NAME]
    assert (first["time_s"], second["time_s"]) == ("0.0000", "0.0050")
    assert len(first["travel_fl_mm"].partition(".")[2]) == 2
    assert len(first["accel_z_g"].partition(".")[2]) == 4
    assert (first["steer_deg"] == "", second["steer_deg"]) == (False, "")
    assert lines[2 + 45].split(",")[1] == ""


def test_parquet_holds_the_same_numbers_and_nulls(frame: Frame, tmp_path: Path) -> None:
    write_csv(tmp_path / "run.csv", frame, "invented")
    write_parquet(tmp_path / "run.parquet", frame, "invented")
    text, table = pd.read_csv(tmp_path / "run.csv", comment="#"), pd.read_parquet(tmp_path / "run.parquet")
    pd.testing.assert_frame_equal(text.astype(float), table.astype(float), rtol=0.0, atol=1e-9)
    assert table["travel_fl_mm"].isna().sum() == 20
    first = (tmp_path / "run.parquet").read_bytes()
    write_parquet(tmp_path / "run.parquet", frame, "invented")
    assert (tmp_path / "run.parquet").read_bytes() == first


def test_a_measurement_file_has_a_group_for_each_box_and_a_bus_whose_clock_runs_fast(frame: Frame, tmp_path: Path) -> None:
    asammdf = pytest.importorskip("asammdf")
    write_mdf(tmp_path / "run.mf4", frame, "invented")
    with asammdf.MDF(tmp_path / "run.mf4") as mdf:
        assert "invented" in mdf.header.comment
        assert [group.channel_group.acq_name for group in mdf.groups] == list(EVERY)
        travel, steer, duty = (mdf.get(name) for name in ("travel_fl_mm", "steer_deg", "duty_comp_fl_pct"))
    assert (len(travel.samples), len(duty.samples), len(steer.samples)) == (740, 370, 185)
    assert (travel.unit, steer.unit, duty.unit) == ("mm", "deg", "%")
    assert np.isfinite(steer.samples).all()
    assert travel.timestamps[-1] == pytest.approx(3.995, abs=1e-9)
    assert steer.timestamps[-1] == pytest.approx(3.98 * (1.0 + BUS_DRIFT), abs=1e-6)
    assert np.nanmax(np.abs(travel.samples - frame.columns["travel_fl_mm"][frame.kept])) <= 0.005


def test_a_format_whose_library_is_not_there_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> None:
        raise ImportError(name)

    monkeypatch.setattr("importlib.import_module", missing)
    with pytest.raises(BadInput, match=r"--format: mdf needs a further package; install it with: pip install dualduty\[mdf\]"):
        write_log.check_format("mdf")
    write_log.check_format("csv")


def test_the_map_of_sessions_is_the_ordinary_one_with_more() -> None:
    ordinary = (shipped_calibrations() / "channel_maps" / "marram_logger.toml").read_text(encoding="utf-8")
    made = session_map(ordinary, own_clocks=False)
    assert made.startswith(ordinary.rstrip("\n"))
    assert 'column = "state_landing"' in made[len(ordinary) :]
    assert 'column = "time_s"' not in session_map(ordinary, own_clocks=True)


@pytest.mark.parametrize(("form", "streams"), [("csv", 1), ("parquet", 1), ("mdf", 4)])
def test_what_is_written_is_read_with_every_channel(frame: Frame, tmp_path: Path, form: str, streams: int) -> None:
    pytest.importorskip({"csv": "numpy", "parquet": "pyarrow", "mdf": "asammdf"}[form])
    suffix, writer = WRITERS[form]
    frame.columns["drive_mode"][:] = 2.0
    frame.columns["steer_deg"][0] = 3.25
    writer(tmp_path / f"run{suffix}", frame, "invented")
    ordinary = (shipped_calibrations() / "channel_maps" / "marram_logger.toml").read_text(encoding="utf-8")
    (tmp_path / "map.toml").write_text(session_map(ordinary, own_clocks=form == "mdf"), encoding="utf-8")
    log = open_log(tmp_path / f"run{suffix}", read_channel_map(tmp_path / "map.toml"))
    assert log.resolved.missing == {}
    assert len(log.streams) == streams
    row = log.layout.rows["steer_angle"].start
    rows, values = next((part.rows.tolist(), part.values) for part in log.parts() if row in part.rows and part.time.size)  # noqa: PD011 - not pandas
    assert values[rows.index(row), 0] == pytest.approx(np.deg2rad(3.25), abs=1e-9)


def test_a_measurement_file_has_the_same_bits_whenever_it_is_written(frame: Frame, tmp_path: Path) -> None:
    pytest.importorskip("asammdf")
    for name in ("one", "other"):
        write_mdf(tmp_path / f"{name}.mf4", frame, "invented")
        time.sleep(1.1)  # a stamp in whole seconds would differ
    assert (tmp_path / "one.mf4").read_bytes() == (tmp_path / "other.mf4").read_bytes()

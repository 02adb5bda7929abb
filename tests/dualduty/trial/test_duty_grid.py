"""Maps over constant duties: each cell is the run with those duties, best points are best, files hold it all."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.patches import Rectangle

from dualduty.command_line.duty_grid_run import run
from dualduty.report.duty_grid_picture import draw_duty_grid
from dualduty.scoring.measure import discover_measures
from dualduty.scoring.score import score
from dualduty.shipped import shipped_calibrations
from dualduty.trace import Case
from dualduty.trial.clock import DT
from dualduty.trial.duty_grid import DutyGrid, Plan, duty_grid, grid_rows
from plant.closed_loop import drive
from plant.constant_duty import ConstantDuty
from plant.course import Course
from plant.section import read_section
from plant.vehicle import Vehicle, read_vehicle

SHIPPED = shipped_calibrations()
ROLL = "peak_suspension_roll"
SEAT = "weighted_seat_acceleration"


@pytest.fixture(scope="module")
def course(tmp_path_factory: pytest.TempPathFactory) -> Course:
    """The beginning of the double whoops."""
    made = tmp_path_factory.mktemp("grid") / "double_whoops.toml"
    text = (SHIPPED / "sections" / "double_whoops.toml").read_text(encoding="utf-8")
    made.write_text(re.sub(r"(?m)^duration_s = .*$", "duration_s = 4.0", text), encoding="utf-8")
    return read_section(made).build()


@pytest.fixture(scope="module")
def marram() -> Vehicle:
    """The shipped type."""
    return read_vehicle(SHIPPED / "vehicles" / "marram.toml")


@pytest.fixture(scope="module")
def grid(marram: Vehicle, course: Course) -> DutyGrid:
    """Three by three, rear axle alone."""
    return duty_grid(marram, course, "marram", Plan(3, "rear", 0.4))


def test_a_cell_is_the_run_with_its_duties(grid: DutyGrid, marram: Vehicle, course: Course) -> None:
    compression = np.array([0.4, 0.4, 1.0, 1.0]).reshape(4, 1, 1)
    rebound = np.array([0.4, 0.4, 0.5, 0.5]).reshape(4, 1, 1)
    case = Case(course.name, "one", "fixed", 0, "marram")
    trace = drive([course], [marram], ConstantDuty(1, compression, rebound, DT), (case,), np.zeros(1, np.int16))
    alone = score(trace, marram.car)
    for name in (SEAT, "tyre_load_variation", "peak_compression", "mean_rebound_duty"):
        row = [measure.name for measure in alone.measures].index(name)
        assert grid.value(name)[2, 1] == alone.values[row, 0]


def test_the_first_axis_is_compression_the_second_rebound(grid: DutyGrid) -> None:
    # the measure is of the firmest corner, and the front is held at 40 %
    np.testing.assert_allclose(grid.value("mean_compression_duty")[:, 0], np.maximum(grid.plan.duties, 0.4), rtol=1e-12)
    np.testing.assert_allclose(grid.value("mean_rebound_duty")[0], np.maximum(grid.plan.duties, 0.4), rtol=1e-12)


def test_best_is_the_lowest_where_low_is_good_and_nothing_where_nothing_moves(grid: DutyGrid) -> None:
    best = grid.best(SEAT)
    assert best is not None
    assert grid.value(SEAT)[best] == grid.value(SEAT).min()
    assert grid.as_good(SEAT)[best]
    assert not grid.as_good(SEAT).all()
    assert grid.best(ROLL) is None  # both tracks alike: no roll but rounding
    assert not grid.as_good(ROLL).any()
    assert grid.best("mean_rebound_duty") is None  # neither good nor bad
    none = replace(grid, values=np.full_like(grid.values, np.nan))
    assert none.best(SEAT) is None


def test_batches_do_not_matter(grid: DutyGrid, marram: Vehicle, course: Course, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("dualduty.trial.duty_grid.BATCH", 4)
    told: list[float] = []
    measures = [discover_measures()[SEAT]]
    parts = duty_grid(marram, course, "marram", Plan(3, "rear", 0.4), measures, told.append)
    np.testing.assert_array_equal(parts.value(SEAT), grid.value(SEAT))
    assert told == pytest.approx([4 / 9, 8 / 9, 1.0])


def test_rows_name_units_and_say_what_was_held(grid: DutyGrid) -> None:
    rows = grid_rows(grid)
    assert len(rows) == 9
    assert (rows[5]["compression_duty_pct"], rows[5]["rebound_duty_pct"], rows[5]["held_duty_pct"]) == (50.0, 100.0, 40.0)
    assert float(str(rows[5]["weighted_seat_acceleration_m_s2"])) == pytest.approx(grid.value(SEAT)[1, 2], rel=1e-5)
    assert rows[0]["stamp"] == "not compared"


def test_the_picture_frames_the_best_and_dots_its_equals(grid: DutyGrid) -> None:
    figure = draw_duty_grid(grid)
    titles = [axes.get_title(loc="left") for axes in figure.axes]
    assert titles[0].startswith("weighted seat acceleration")
    assert any("alike at all duties" in title for title in titles)
    seat = figure.axes[0]
    best = grid.best(SEAT)
    assert best is not None
    frames = [patch for patch in seat.patches if isinstance(patch, Rectangle)]
    assert {(frame.get_y() + 0.5, frame.get_x() + 0.5) for frame in frames} == {tuple(map(float, best))}
    assert len(seat.lines) == grid.as_good(SEAT).sum()
    assert "rear axle, the other held at 40 %" in " ".join(text.get_text() for text in figure.texts)


def test_the_command_writes_pictures_and_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    given = {
        "folder": SHIPPED, "sections": ("swerve",), "all_sections": False, "vehicle": "marram_2", "payload": None,
        "hardware": "softer_tyres", "steps": 2, "axle": "both", "held": 30.0, "out": tmp_path / "grid", "quiet": True,
    }  # fmt: skip
    run(given, {})
    out = capsys.readouterr().out
    assert "hardware tyre pressure" in out
    assert (tmp_path / "grid" / "swerve.png").read_bytes()[:4] == b"\x89PNG"
    with (tmp_path / "grid" / "duty_grid.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [(row["compression_duty_pct"], row["rebound_duty_pct"]) for row in rows] == [
        ("0.0", "0.0"), ("0.0", "100.0"), ("100.0", "0.0"), ("100.0", "100.0")
    ]  # fmt: skip
    assert rows[0]["vehicle"] == "marram_2 with softer_tyres"

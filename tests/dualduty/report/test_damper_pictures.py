"""The pictures of sheets and requests: drawn for every shape of input, with what matters written in them."""

from __future__ import annotations

from pathlib import Path

import matplotlib.text
import pytest
from matplotlib.figure import Figure

from dualduty.dyno.base_maps import read_base
from dualduty.dyno.change import change_between
from dualduty.dyno.overlay import compare
from dualduty.dyno.request import Request, read_request
from dualduty.dyno.request_answer import answer
from dualduty.dyno.request_target import Target, targets
from dualduty.report.dampers.change_picture import draw_change
from dualduty.report.dampers.crosstalk_picture import draw_crosstalk
from dualduty.report.dampers.overlay_picture import draw_deviation, draw_overlay
from dualduty.report.dampers.request_folder import write_request
from dualduty.report.dampers.request_picture import draw_answer, draw_request
from dualduty.report.figure_file import png_bytes
from dualduty.shipped import shipped_calibrations
from tests.dualduty.dyno.dampers import cars, sheet, weak_above_one


def written(figure: Figure) -> str:
    """All text of a figure, which is drawn on the way."""
    assert len(png_bytes(figure)) > 10_000
    return "\n".join(text.get_text() for text in figure.findobj(matplotlib.text.Text))


@pytest.fixture(scope="module")
def asked() -> tuple[Request, list[Target]]:
    request = read_request(shipped_calibrations() / "dyno" / "rear_support_request.toml")
    return request, targets(request, read_base(request))


def test_the_odd_one_is_named_in_both_pictures() -> None:
    found = compare(cars(2, 0.01, 1, rebound=weak_above_one))
    for figure in (draw_overlay(found), draw_deviation(found)):
        text = written(figure)
        assert "MD-2107 -1" in text
        assert "[kN]" in text or "[%]" in text


def test_a_single_axle_and_a_pair_are_drawn() -> None:
    found = compare([sheet("A", "rear_left"), sheet("B", "rear_right", rebound=weak_above_one)])
    assert "B -12 % to A" in written(draw_deviation(found))
    assert "front" not in written(draw_overlay(found))


def test_a_change_is_told_in_the_picture() -> None:
    found = change_between(sheet("A", "rear_left", seed=1), sheet("A", "rear_left", seed=2, rebound=weak_above_one))
    assert "rebound -12 % from 1.0 to 3.0 m/s" in written(draw_change(found))


def test_crosstalk_stands_in_the_cells() -> None:
    assert "+6.0 %" in written(draw_crosstalk(sheet("A", "rear_left")))


def test_request_and_answer_are_drawn(asked: tuple[Request, list[Target]]) -> None:
    request, wanted = asked
    assert "rear compression +15 % at 1.5 to 3.2 m/s" in written(draw_request(request.name, wanted))
    assert "0 of 3 wishes met" in written(draw_answer(answer(request, wanted, [sheet("A", "rear_left"), sheet("B", "rear_right")])))


def test_the_request_folder_holds_page_maps_and_picture(tmp_path: Path, asked: tuple[Request, list[Target]]) -> None:
    write_request(*asked, tmp_path / "ask")
    names = sorted(path.name for path in (tmp_path / "ask").iterdir())
    assert names == [
        "asked_rear_left_compression.csv", "asked_rear_right_compression.csv", "asked_rear_right_rebound.csv", "request.md", "request.png",
        "written_by_dualduty.txt",
    ]  # fmt: skip
    page = (tmp_path / "ask" / "request.md").read_text(encoding="utf-8")
    assert "1. rear compression +15 %, 1.5 to 3.2 m/s, nothing below 0.5 m/s" in page
    assert "**4979** (base 4330)" in page  # 15 % more at 1.5 m/s and full duty, rear-left

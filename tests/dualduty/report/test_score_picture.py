"""The scorecard picture holds every cell once, in words, symbol and colour."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from dualduty.report.figure_file import png_bytes
from dualduty.report.score_grid import Order, grids
from dualduty.report.score_picture import draw_all_scores, draw_scores
from dualduty.report.verdict import VERDICTS
from tests.dualduty.report import made_up_rows as made_up


def cell_texts(figure: Figure) -> list[str]:
    return [text.get_text() for text in figure.axes[0].texts] if figure.axes else []


def test_one_picture_per_mode_with_all_cells() -> None:
    figures = draw_all_scores(made_up.card())
    assert list(figures) == list(made_up.MODES)
    boxes = figures["dash"].axes[0].collections[0]
    assert len(boxes.get_paths()) == 7 * 18
    assert "126 cells compared" in " ".join(text.get_text() for text in figures["dash"].texts)


def test_cells_stand_in_their_row_and_column_with_symbol_and_change() -> None:
    rows = [
        made_up.row(),
        made_up.row(section="berm", measure="bump-stop contacts", unit="1", baseline=0.0, candidate=2.0, change_pct=None),
    ]
    figure = draw_scores(rows, "dash")
    places = {text.get_text(): text.get_position() for text in figure.axes[0].texts}
    assert places["✗ +28 %"][0] == 0.5
    assert places["✗ 0 → 2"] == pytest.approx((1.5, 1.52))
    assert "roll angle [deg]" in places


def test_verdicts_differ_in_colour_in_grey_and_in_symbol() -> None:
    shades = {}
    for name, (_, _, fill, _) in VERDICTS.items():
        parts = [int(fill[place : place + 2], 16) for place in (1, 3, 5)]
        shades[name] = 0.299 * parts[0] + 0.587 * parts[1] + 0.114 * parts[2]  # luma weights, ITU-R BT.601, from memory
    assert shades["worse"] < shades["better"] - 60
    assert shades["better"] < shades["same"] - 40
    assert len({values[0] for values in VERDICTS.values()}) == len(VERDICTS)


def test_the_worst_cell_is_framed() -> None:
    rows = [made_up.row(), made_up.row(section="berm", candidate=9.0, change_pct=181.0), made_up.row(section="slope", verdict="same")]
    frames = [patch for patch in draw_scores(rows, "dash").axes[0].patches if isinstance(patch, Rectangle)]
    assert [frame.get_xy() for frame in frames] == [(1, 0)]


def test_nothing_is_framed_when_nothing_got_worse() -> None:
    assert not draw_scores([made_up.row(verdict="better")], "dash").axes[0].patches


def test_fill_follows_the_verdict() -> None:
    figure = draw_scores([made_up.row(section="berm"), made_up.row(verdict="better")], "dash")
    fills = [to_hex(tuple(colour)) for colour in np.asarray(figure.axes[0].collections[0].get_facecolor())]
    assert fills[::-1] == [VERDICTS["better"][2], VERDICTS["worse"][2]]


def test_rows_of_the_scorecard_with_labels_vehicles_and_nan_draw() -> None:
    bare = made_up.row(label="roll angle, largest", measure="roll_peak", vehicle="marram", change_pct=float("nan"), candidate=float("nan"))
    figure = draw_scores([bare, bare | {"vehicle": "marram loaded"}, bare | {"section": "berm", "verdict": "something else"}], "dash")
    texts = cell_texts(figure)
    assert "roll angle, largest [deg]" in texts
    assert any("marram" in text and "loaded" in text for text in texts)
    png_bytes(figure)


def test_no_rows_say_so() -> None:
    assert "Nothing was compared." in " ".join(text.get_text() for text in draw_scores([], "dash").texts)


@pytest.mark.parametrize("section", ["$x$ _y", "a" * 90, "<b>", "many short words in a row that go on and on and on for ever"])
def test_odd_section_names_stay_inside_their_column(section: str) -> None:
    rows = [made_up.row(section=f"{section}{index}") for index in range(7)]
    figure = draw_scores(rows, "dash")
    figure.canvas.draw()
    heads = [text.get_window_extent() for text in figure.axes[0].texts[:7]]
    assert all(left.x1 <= right.x0 for left, right in pairwise(heads))
    assert np.all([head.y1 <= figure.bbox.height for head in heads])


def test_modes_share_their_order_and_a_wanted_order_is_kept() -> None:
    rows = [made_up.row(section="b", measure="two"), made_up.row(section="a", mode="haul"), made_up.row(section="a", measure="one")]
    order = Order(sections=("a", "b"), measures=("one", "two"))
    found = grids(rows, order)
    assert [grid.mode for grid in found] == ["dash", "haul"]
    assert found[0].columns == found[1].columns == ("a", "b")
    assert [line[0] for line in found[0].lines] == ["one", "two", "roll angle"]


def test_of_two_rows_for_one_place_the_worst_is_shown() -> None:
    grid = grids([made_up.row(verdict="same"), made_up.row()])[0]
    assert [row["verdict"] for row in grid.rows] == ["worse"]

"""Pictures of a check: what they show is what they were given, and nothing lies outside."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text

from dualduty.report import look
from dualduty.report.check_page import CheckPage, EventGroup, Grid, check_page_text
from dualduty.report.check_pictures import Points, draw_cross_triggers, draw_latencies, draw_margins
from dualduty.report.event_picture import Moment, Panel, draw_event
from dualduty.report.figure_file import png_bytes
from dualduty.report.page_content import Gate, Picture

TIME = np.arange(11.5, 13.0, 0.002)
PANEL = Panel("specific force z", "g", np.ones((1, len(TIME))), (0.25,))
TRAVEL = Panel("shaft travel", "mm", np.cumsum(np.ones((4, len(TIME))), axis=0))


def said(figure: Figure) -> list[str]:
    """All words on a figure that lie within it."""
    png_bytes(figure)
    texts = [text for axes in figure.axes for text in (*axes.texts, *_ticks(axes))]
    wide, high = figure.canvas.get_width_height()
    for text in [*figure.texts, *texts]:
        if text.get_text() and text.get_visible():
            box = text.get_window_extent()
            assert box.x0 >= -1, text.get_text()
            assert box.x1 <= wide + 1, text.get_text()
            assert box.y1 <= high + 1, text.get_text()
    return [text.get_text() for text in [*figure.texts, *texts]] + [axes.get_title(loc="left") for axes in figure.axes]


def _ticks(axes: Axes) -> list[Text]:
    """Labels of ticks within the axes; those beyond are never drawn."""
    low, high = axes.get_xlim()
    across = [label for label in axes.get_xticklabels() if low <= label.get_position()[0] <= high]
    bottom, top = sorted(axes.get_ylim())
    return across + [label for label in axes.get_yticklabels() if bottom <= label.get_position()[1] <= top]


def test_a_strip_shows_every_value_its_median_and_its_limit() -> None:
    rows = [Points("airborne", tuple(np.linspace(40.0, 120.0, 31)), 2, 90.0), Points("landing", (5.0,))]
    figure = draw_latencies(rows)
    assert {"airborne (31, 2 missed)", "landing (1)"} <= set(said(figure))
    lines = figure.axes[0].lines
    points = [line for line in lines if line.get_marker() == "o"]
    assert sorted(np.asarray(points[0].get_xdata()).tolist()) == list(rows[0].values)
    upright = [float(np.asarray(line.get_xdata())[0]) for line in lines if line.get_marker() != "o"]
    assert pytest.approx(upright[1:4]) == [80.0, 112.0, 90.0]  # median, 90th percentile, limit; before them the zero line


def test_margins_show_the_least_in_place_of_the_90th_percentile() -> None:
    figure = draw_margins([Points("250 to 500 ms", (300.0, 200.0, 350.0), 12)])
    assert "250 to 500 ms (3, 12 missed)" in said(figure)
    upright = [float(np.asarray(line.get_xdata())[0]) for line in figure.axes[0].lines if line.get_marker() != "o"]
    assert upright == [0.0, 300.0, 200.0]


def test_the_cross_matrix_has_a_number_in_each_cell_that_has_one() -> None:
    figure = draw_cross_triggers({("airborne", "braking"): 3, ("landing", ""): 1, ("a_state_with_a_very_long_name_indeed", "airborne"): 2})
    numbers = {text.get_position(): text.get_text() for text in figure.axes[0].texts}
    assert numbers == {(0, 0): "3", (2, 1): "1", (1, 2): "2"}
    assert "nothing" in said(figure)


@pytest.mark.parametrize("draw", [draw_latencies, draw_margins])
def test_nothing_to_show_is_still_a_picture(draw: type) -> None:
    assert png_bytes(draw([]))[:4] == b"\x89PNG"
    assert png_bytes(draw([Points("airborne", (), 3)]))[:4] == b"\x89PNG"


def test_an_event_shows_mark_detection_signals_and_level() -> None:
    figure = draw_event(Moment("lost: airborne@12.000", "kicker", "lost", TIME, (PANEL, TRAVEL), (), (12.0, 12.5), (0.02, 0.05)))
    words = said(figure)
    assert {"lost: airborne@12.000", "kicker", "nothing", "opens at", "specific force z [g]", "shaft travel [mm]"} <= set(words)
    lanes, force, travel = figure.axes
    assert len(lanes.collections) == 2  # the mark, and its soft ends
    assert [float(np.asarray(line.get_ydata())[0]) for line in force.lines] == [1.0, 0.25]
    assert len(travel.lines) == 4
    assert len({(line.get_color(), line.get_linestyle()) for line in travel.lines}) == 4


def test_only_the_detection_that_found_nothing_is_drawn_as_false() -> None:
    active = ((11.6, 11.7), (12.2, 12.5))
    figure = draw_event(Moment("false: landing@12.2", "", "false", TIME, (PANEL,), active, near=((11.55, 11.65),), detection=(12.2, 12.5)))
    bars = {collection.get_hatch() or "": collection.get_paths() for collection in figure.axes[0].collections}
    assert set(bars) == {"", "////"}
    assert [path.get_extents().x0 for path in bars["////"]] == pytest.approx([12.2])
    assert "nothing" not in said(figure)  # a mark lies nearby, and something was detected


def test_a_long_event_is_thinned_and_a_moment_without_ticks_is_drawn() -> None:
    time = np.arange(0.0, 60.0, 0.002)
    figure = draw_event(Moment("x", "", "missed", time, (Panel("a", "g", np.ones((1, len(time)))),), ((1.0, 2.0),), (1.0, 50.0)))
    assert len(figure.axes[1].lines[0].get_xdata()) < 2000  # type: ignore[arg-type]
    png_bytes(draw_event(Moment("x", "", "missed", np.zeros(0), (), (), (1.0, 2.0))))


def test_the_page_holds_what_it_is_given_and_no_mark_up_of_others() -> None:
    picture = Picture("", png_bytes(draw_latencies([Points("airborne", (1.0,))])), "latencies")
    page = CheckPage(
        "check <b>", "one log", ["1 of 1 found"], gates=[Gate("airborne no_lost", False, "1 lost")],
        figures=[Grid("loop", ("state", "found"), (("airborne", "1"),), ("a line <below>",))], pictures=[picture],
        against=["lost: loop: airborne@1.000"], groups=[EventGroup("lost", "what is lost", 2, (picture,), ("loop: missed: airborne",))],
        provenance=[("calibration", "x")],
    )  # fmt: skip
    text = check_page_text(page)
    assert "check &lt;b&gt;" in text
    assert "a line &lt;below&gt;" in text
    assert "✗ limits not kept" in text
    assert "<h3>lost: 2</h3>" in text
    assert "Not drawn, 1 more" in text
    assert text.count("<img") == 2
    assert text == check_page_text(page)


def test_times_late_in_a_log_stand_in_full_under_the_picture() -> None:
    figure = look.new_figure(6.0, 2.0)
    axes = look.dress(figure.add_axes((0.1, 0.2, 0.8, 0.7)))
    axes.set(xlim=(1020.116, 1021.1), ylim=(0.0, 1.0))
    figure.draw_without_rendering()
    assert axes.xaxis.get_offset_text().get_text() == ""
    assert all(1020.0 <= float(label.get_text()) <= 1021.2 for label in axes.get_xticklabels())

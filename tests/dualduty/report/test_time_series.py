"""The pictures of a run hold the run's data, and say what they can't show."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Text
from numpy.typing import NDArray

from dualduty.report import look, strips
from dualduty.report.figure_file import png_bytes
from dualduty.report.gather import Gathered, gather
from dualduty.report.time_series import draw_case, draw_duties, draw_overview
from dualduty.trace import FLAG_FAULT, FLAG_TRIM, Case, Trace
from tests.dualduty.report import made_up_trace as made_up


@pytest.fixture(scope="module")
def pair() -> list[Gathered]:
    return gather(made_up.trace(12.0))


def panel(figure: Figure, start: str) -> Axes:
    return next(axes for axes in figure.axes if axes.get_title(loc="left").startswith(start))


def heights(line: Line2D) -> NDArray[np.float64]:
    return np.asarray(line.get_ydata(), dtype=float)


def all_words(figure: Figure) -> str:
    return " ".join(text.get_text() for text in figure.findobj(Text))


def test_travel_panels_hold_both_cases_of_their_own_corner(pair: list[Gathered]) -> None:
    figure = draw_overview(pair[1], pair[0], made_up.CAR)
    lines = panel(figure, "rear-left shaft travel").get_lines()
    np.testing.assert_array_equal(heights(lines[0]), pair[1].curves["travel"].values[2])
    np.testing.assert_array_equal(heights(lines[1]), pair[0].curves["travel"].values[2])
    assert (lines[0].get_color(), lines[1].get_color()) == (look.CANDIDATE, look.BASELINE)
    assert lines[0].get_linestyle() != lines[1].get_linestyle()


def test_end_stops_stand_at_the_cars_own_travels(pair: list[Gathered]) -> None:
    lines = panel(draw_overview(pair[1], None, made_up.CAR), "rear-left").get_lines()
    assert [heights(line)[0] for line in lines[1:]] == [0.0, 270.0, 330.0]


def test_end_stops_may_be_one_number_for_all_corners(pair: list[Gathered]) -> None:
    car = SimpleNamespace(stroke=np.array([0.3]), bump_contact=np.array([0.2]))
    lines = panel(draw_overview(pair[1], None, car), "front-right").get_lines()
    np.testing.assert_allclose([heights(line)[0] for line in lines[1:]], [0.0, 200.0, 300.0])


def test_rebound_is_drawn_downward(pair: list[Gathered]) -> None:
    lines = panel(draw_duties(pair[1], pair[0]), "front-right: compression duty").get_lines()
    np.testing.assert_array_equal(heights(lines[0]), pair[1].duty["compression"].values[1])
    np.testing.assert_array_equal(heights(lines[2]), -pair[1].duty["rebound"].values[1])


def test_legend_names_layers_candidates_and_only_the_flags_that_came_up(pair: list[Gathered]) -> None:
    told = all_words(draw_duties(pair[1], pair[0]))
    for wanted in ("1 base duty over speed", "5 landing override", "softer rebound 1", "as driven", "flag: fault", "flag: slew"):
        assert wanted in told
    assert "map clamp" not in told


def test_layer_strip_has_the_colour_of_the_layer_that_decided(pair: list[Gathered]) -> None:
    cells = strips.layer_cells(pair[1], "compression", made_up.LAYERS, pair[1].mode.edges)
    landing = int(np.searchsorted(pair[1].mode.edges, 8.0)) - 1
    assert look.LAYER_COLOURS[4] == "#" + "".join(f"{part:02x}" for part in cells[0, landing, :3])


def test_layers_of_another_stack_keep_their_names_colours(pair: list[Gathered]) -> None:
    other = replace(pair[0], layers=("base duty over speed", "something new", *made_up.LAYERS[2:]))
    names = strips.layer_names(pair[1], other)
    assert names == (*made_up.LAYERS, "something new")
    braking = int(np.searchsorted(other.mode.edges, 6.4)) - 1
    cells = strips.layer_cells(other, "compression", names, other.mode.edges)
    assert look.layer_colour(5) == "#" + "".join(f"{part:02x}" for part in cells[0, braking, :3])


def test_the_gravest_of_several_flags_is_shown() -> None:
    found = strips.gravest(np.array([[0, FLAG_TRIM, FLAG_TRIM | FLAG_FAULT]], dtype=np.uint8))
    assert [strips.GRAVEST_LAST[place] if place >= 0 else 0 for place in found[0]] == [0, FLAG_TRIM, FLAG_FAULT]


def test_states_have_a_lane_each_and_a_line_beneath_only_where_the_baseline_differs(pair: list[Gathered]) -> None:
    lanes = strips.state_lanes(pair[1], pair[0])
    assert lanes.labels == [name.replace("_", " ") for name in made_up.STATES]
    rows = dict(zip(lanes.labels, lanes.rows, strict=True))
    baseline = strips.colour_table([look.BASELINE])[0]
    assert (rows["cornering"] == baseline).all(axis=-1).any()
    assert not (rows["airborne"] == baseline).all(axis=-1).any()


def test_a_changing_drive_mode_gets_a_lane_with_its_names(pair: list[Gathered]) -> None:
    values = pair[1].mode.values.copy()
    values[0, values.shape[1] // 2 :] = 2
    told = all_words(draw_duties(replace(pair[1], mode=replace(pair[1].mode, values=values))))
    assert "drive mode" in told
    assert "haul" in told
    assert "drive mode" not in all_words(draw_duties(pair[1]))


def test_missing_samples_and_missing_signals_draw() -> None:
    logged = gather(made_up.trace(12.0, truth_dt=0.0, source="replayed", driven_by="dash of May"), [1])[0]
    lines = panel(draw_overview(logged), "rear-right").get_lines()
    assert np.isnan(heights(lines[0])).any()
    bare = replace(logged, curves={})
    assert "not recorded" in all_words(draw_overview(bare))
    assert "dash of May" in all_words(draw_overview(logged))


def test_a_run_without_chunks_and_one_without_states_draw() -> None:
    nothing = gather(Trace(made_up.header(), lambda: iter(())))[0]
    for figure in (draw_overview(nothing), draw_duties(nothing, nothing)):
        assert "no states published" in all_words(figure)
        png_bytes(figure)


def test_another_quantity_is_not_drawn_as_the_baseline_of_this_one(pair: list[Gathered]) -> None:
    logged = gather(made_up.trace(12.0, truth_dt=0.0), [0])[0]
    assert len(panel(draw_overview(pair[1], logged), "roll angle").get_lines()) == 1


def test_hostile_names_are_drawn_as_they_stand() -> None:
    case = Case("a$b$ \\frac{1}{0}\n\x00", "_$x^$ 車", "dash")
    found = gather(made_up.trace(1.0, cases=1), [0])[0]
    figure = draw_duties(replace(found, label=case.label, name=case.candidate, layers=("$x$", "_y", *made_up.LAYERS[2:])))
    png_bytes(figure)
    assert "\\$x^\\$ □" in all_words(figure)


def test_same_run_same_bytes() -> None:
    once, again = (draw_case(made_up.trace(3.0), 1, 0, made_up.CAR) for _ in range(2))
    assert list(once) == ["motion", "duties"]
    assert all(png_bytes(once[name]) == png_bytes(again[name]) for name in once)

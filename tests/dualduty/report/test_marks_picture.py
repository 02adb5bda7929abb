"""The picture of marks: what it must tell apart is told by more than colour, and no peak of a signal is lost."""

from __future__ import annotations

import numpy as np
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from dualduty.report.marks_picture import MOST_BINS, ORIGINS, Panel, draw_marks, origin_of, thinned
from replay.marks.mark import Mark

MARKS = (
    Mark("airborne", 1.0, 2.0, who="KR"),
    Mark("airborne", 4.0, 5.0, origin="detector Airborne of marram baseline", status="proposed", start_margin=0.2),
    Mark("wheel_off", 1.0, 2.0, "rear_left", origin="offline", status="rejected"),
    Mark("landing", 2.0, 2.4, origin="truth", sure=0.6),
    Mark("note", 3.0, 3.0, note="thud", origin="marker button"),
)
TIME = np.arange(0.0, 6.0, 0.01)
PANEL = Panel("shaft travel", "mm", tuple((TIME, np.full(TIME.size, 100.0 + corner)) for corner in range(4)))


def drawn(*marks: Mark) -> Figure:
    return draw_marks(marks, [PANEL], (0.0, 6.0), "Marks of a run")


def boxes(figure: Figure) -> list[Rectangle]:
    return [patch for patch in figure.axes[0].patches if isinstance(patch, Rectangle) and patch.get_linewidth() > 0]


def test_a_lane_per_state_and_place() -> None:
    figure = drawn(*MARKS)
    assert [label.get_text() for label in figure.axes[0].get_yticklabels()] == ["airborne", "landing", "wheel off rear left"]
    assert [(box.get_x(), box.get_width()) for box in boxes(figure)] == [(1.0, 1.0), (4.0, 1.0), (1.0, 1.0), (2.0, 2.4 - 2.0)]


def test_origins_differ_by_hatch_or_lightness_and_proposals_by_their_edge() -> None:
    looks = {(said.hatch, to_hex(said.face)) for said in ORIGINS.values()}
    assert len(looks) == len(ORIGINS)
    plain = [said.face for said in ORIGINS.values() if not said.hatch]
    light = sorted(sum(int(face[place : place + 2], 16) for place in (1, 3, 5)) / 765 for face in plain)
    assert min(np.diff(light)) > 0.1
    person, proposal, rejected, _ = boxes(drawn(*MARKS))
    assert (person.get_hatch(), proposal.get_hatch(), rejected.get_hatch()) == ("", "////", "....")
    assert person.get_linestyle() != proposal.get_linestyle()


def test_margins_are_soft_ends_of_their_own_width() -> None:
    soft = [patch for patch in drawn(*MARKS).axes[0].patches if isinstance(patch, Rectangle) and patch.get_linewidth() == 0]
    assert [round(patch.get_width(), 6) for patch in soft[:4]] == [0.04, 0.04, 0.4, 0.04]


def test_how_sure_and_notes_are_written_and_a_note_runs_through_all_panels() -> None:
    figure = drawn(*MARKS)
    assert {"60 %", "thud"} <= {text.get_text() for text in figure.axes[0].texts}
    assert all(any(np.allclose(line.get_xdata(), 3.0) for line in axes.lines) for axes in figure.axes)


def test_the_legend_names_what_is_there_and_no_more() -> None:
    (legend,) = drawn(MARKS[0]).legends
    assert [text.get_text() for text in legend.get_texts()] == ["a person, from scratch", "how soft an edge is"]
    (legend,) = drawn(*MARKS).legends
    assert "struck out: rejected" in [text.get_text() for text in legend.get_texts()]


def test_marks_of_detectors_are_theirs_whoever_took_them_in() -> None:
    assert [origin_of(mark) for mark in MARKS] == ["person", "detector", "offline", "truth", "button"]


def test_more_lanes_than_there_is_room_for_are_told() -> None:
    many = [Mark(f"state_{number:02}", 1.0, 2.0) for number in range(30)]
    figure = drawn(*many)
    assert len(figure.axes[0].get_yticks()) == 24
    assert any("6 more lanes not drawn." in text.get_text() for text in figure.texts)


def test_nothing_to_draw_is_drawn() -> None:
    assert drawn().axes[0].get_xlim() == (0.0, 6.0)


def test_a_thinned_curve_keeps_its_peaks_and_its_order() -> None:
    values = np.zeros(100_000)
    values[54_321], values[54_400], values[99_999] = 7.0, -3.0, 2.0
    values[100] = np.nan
    time, kept = thinned(np.arange(100_000.0), values)
    assert kept.size <= 2 * MOST_BINS + 100
    assert (kept.max(), kept.min(), kept[-1]) == (7.0, -3.0, 2.0)
    assert (np.diff(time) > 0).all() or (np.diff(time) >= 0).all()
    assert time[np.argmax(kept)] == 54_321

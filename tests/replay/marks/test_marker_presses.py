"""The marker button: each press once, however its contacts bounce and whatever samples are lost."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from dualduty.errors import BadInput
from replay.array_log import log_of_frame
from replay.health.check_log import check_log
from replay.marks.marker_presses import marker_presses, presses
from tests.replay.made_up_logs import MAP, frame, write_map

TIME = np.arange(0.0, 10.0, 0.01)


def pressed(*spans: tuple[float, float]) -> np.ndarray:
    values = np.zeros(len(TIME))
    for start, end in spans:
        values[(start - 1e-9 <= TIME) & (end - 1e-9 > TIME)] = 1.0
    return values


def test_a_press_runs_from_its_first_sample_to_the_first_after_it() -> None:
    assert presses(TIME, pressed((2.0, 2.4), (7.5, 7.6))) == [pytest.approx((2.0, 2.4)), pytest.approx((7.5, 7.6))]


def test_contacts_that_bounce_are_one_press() -> None:
    assert presses(TIME, pressed((2.0, 2.02), (2.03, 2.05), (2.06, 2.5))) == [pytest.approx((2.0, 2.5))]
    assert len(presses(TIME, pressed((2.0, 2.02), (2.31, 2.4)))) == 2  # a second press is a second press


def test_lost_samples_neither_press_nor_let_go() -> None:
    values = pressed((2.0, 2.4))
    values[205:210] = np.nan
    assert presses(TIME, values) == [pytest.approx((2.0, 2.4))]
    assert presses(TIME, np.full(len(TIME), np.nan)) == []


def test_a_button_held_at_the_end_is_pressed_until_the_end() -> None:
    assert presses(TIME, pressed((9.5, 11.0))) == [pytest.approx((9.5, TIME[-1]))]


def test_presses_of_a_log_are_notes_with_their_origin(tmp_path: Path) -> None:
    table = frame(400)
    table["button"] = 0.0
    table.loc[100:140, "button"] = 12.0
    channel_map = write_map(tmp_path, MAP + '[marker]\ncolumn = "button"\non_above = 6\n')
    (mark,) = marker_presses(log_of_frame(table, channel_map))
    assert (mark.state, mark.origin, mark.status, mark.counts) == ("note", "marker button", "accepted", False)
    assert (mark.start, mark.end) == pytest.approx((0.5, 0.705))


def test_a_press_is_where_it_is_stamped_however_late_the_controller_had_it(tmp_path: Path) -> None:
    table = frame(400)
    table["button"] = 0.0
    table.loc[100:140, "button"] = 1.0
    channel_map = write_map(tmp_path, MAP + '[marker]\ncolumn = "button"\nlatency_ms = 150\n')
    (mark,) = marker_presses(log_of_frame(table, channel_map))
    assert mark.start == pytest.approx(0.5)
    assert check_log(log_of_frame(table, channel_map)).presses == pytest.approx((0.5,))


def test_a_log_without_a_button_is_told_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"has no marker button: expected its column under \[marker\] in .*map\.toml"):
        marker_presses(log_of_frame(frame(), write_map(tmp_path)))

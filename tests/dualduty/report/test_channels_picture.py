"""The picture of a recording's channels: one strip each, blanks shown, and it stays a picture whatever is in the log."""

from __future__ import annotations

import numpy as np

from dualduty.report.channels_picture import draw_channels
from dualduty.report.figure_file import png_bytes
from replay.suggestion.inspection import inspect_recording
from tests.replay.made_up_recordings import motion, recording_of


def words(**columns: np.ndarray) -> list[str]:
    time = motion(50.0)["time"]
    seen = inspect_recording(recording_of({"time": ("s", time), **{name: ("mm", values) for name, values in columns.items()}}))
    figure = draw_channels(seen, {(0, "pot_fl"): "shaft_travel front_left, sure"})
    assert png_bytes(figure).startswith(b"\x89PNG")
    return [text.get_text() for text in figure.axes[0].texts]


def test_names_units_ranges_and_guesses_stand_beside_the_strips() -> None:
    si = motion(50.0)
    blank = 1e3 * si["shaft_travel front_left"]
    blank[300:500] = np.nan
    said = words(other=si["brake"], pot_fl=blank)
    assert said[0] == "pot_fl [mm]"  # what is taken for a signal comes first
    assert said[1] == "shaft_travel front_left, sure"
    assert said[2].endswith("20 % blank")
    assert "time [mm]" not in said


def test_odd_channels_are_drawn_all_the_same() -> None:
    samples = len(motion(50.0)["time"])
    said = words(still=np.full(samples, 3.0), gone=np.full(samples, np.nan), huge=np.linspace(-1e300, 1e300, samples))
    assert "3 to 3" in said


def test_no_more_than_a_page_of_channels_is_drawn() -> None:
    si = motion(50.0)
    columns = {f"channel {index}": ("", si["brake"]) for index in range(120)}
    figure = draw_channels(inspect_recording(recording_of({"time": ("s", si["time"]), **columns})), {})
    assert figure.get_figheight() < 22.0
    assert any("40 more channels are not drawn" in text.get_text() for text in figure.texts)

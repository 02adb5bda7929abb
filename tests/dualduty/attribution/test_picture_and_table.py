"""The picture shows what decided and what was asked, the table the same in numbers."""

from __future__ import annotations

import csv
import io

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from dualduty.attribution import Attribution, explain
from dualduty.attribution.picture import draw_corner
from dualduty.attribution.table import csv_text
from dualduty.report import look
from dualduty.report.figure_file import png_bytes
from tests.dualduty.attribution.small_strategy import LANDING, SmallStrategy, run_of


@pytest.fixture(name="told")
def _told() -> Attribution:
    strategy = SmallStrategy()
    return explain(run_of(strategy), strategy, 0.8, 2.0)


def test_the_table_says_what_the_arrays_say(told: Attribution) -> None:
    rows = list(csv.DictReader(io.StringIO(csv_text(told, 2, ("rebound",)))))
    assert len(rows) == told.ticks
    row = rows[told.column(1.1)]
    assert {
        "time_s": "1.1000",
        "corner": "rear_left",
        "side": "rebound",
        "drive_mode": "dash",
        "decided_by": "landing",
    }.items() <= row.items()
    assert (row["duty_pct"], row["landing: asks_pct"], row["landing: open_pct"], row["body hold: after_pct"]) == ("62", "62", "100", "36")
    assert (row["state landing"], row["state airborne"], row["flags"]) == ("1", "0", "")
    assert rows[told.column(1.3)]["flags"] == "trim"
    compression = next(csv.DictReader(io.StringIO(csv_text(told, 2, ("compression",)))))
    assert compression["body hold: asks_pct"] == ""  # leaves the side alone


def test_every_layer_has_a_band_from_the_topmost_down(told: Attribution) -> None:
    titles = [axes.get_title(loc="left") for axes in draw_corner(told, 2, at=1.2).axes]
    named = [title.split(":")[0].split(" ", 1)[1] for title in titles if title[:1].isdigit()]
    assert named == ["brake trim", "landing", "body hold", "base"] * 2
    assert "2 body hold: raise, not while airborne [%]" in titles
    assert "3 landing: set, opened by landing [%]" in titles


def test_the_layer_that_decides_stands_out_in_lightness_too(told: Attribution) -> None:
    figure = draw_corner(told, 2, ("compression",))
    axes = next(axes for axes in figure.axes if axes.get_title(loc="left").startswith("3 landing"))
    strong = np.array(to_rgb(look.layer_colour(LANDING)))
    drawn = [(fill, np.asarray(fill.get_facecolor())) for fill in axes.collections]
    fills = [(colours[0, :3], [path.get_extents() for path in fill.get_paths()]) for fill, colours in drawn if len(colours)]
    decides = next(extents for colour, extents in fills if np.allclose(colour, strong))
    pale = next(colour for colour, extents in fills if extents and not np.allclose(colour, strong))
    assert decides[0].x0 == pytest.approx(1.0)
    assert decides[-1].x1 == pytest.approx(1.80, abs=0.011)  # half open, a tick or so by rounding
    assert pale.sum() - strong.sum() > 0.5  # read: 1.26
    assert any(np.allclose(colour, to_rgb(look.INK)) and extents for colour, extents in fills)  # its dark foot


def test_a_side_that_is_left_alone_says_so(told: Attribution) -> None:
    words = [text.get_text() for axes in draw_corner(told, 2, ("compression",)).axes for text in axes.texts]
    assert words.count("leaves this side alone") == 2  # body hold and trim


def test_another_calibration_lies_beside_it_and_the_picture_is_the_same_each_time(told: Attribution) -> None:
    strategy = SmallStrategy(landing=(0.8, 0.62))
    other = explain(run_of(strategy), strategy, 0.8, 2.0)
    alone, both, again = (png_bytes(draw_corner(told, 2, at=1.2, other=beside)) for beside in (None, other, other))
    assert both == again
    assert both != alone

"""Health strips: what is found is drawn where it is, told apart without colour, and the same bytes each time."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.patches import Rectangle

from dualduty.report.figure_file import png_bytes
from dualduty.report.health_picture import DRESSES, NARROWEST, draw_health, dress_of
from dualduty.trial.run_sheet import LogSection
from replay.array_log import log_of_arrays
from replay.health.check_log import Health, check_log
from replay.health.finding import NOTE
from tests.replay.health.hand_made_parts import driving

SECTIONS = (LogSection("whoops-1", 2.0, 9.0), LogSection("corner-1", 12.0, 18.0))


@pytest.fixture(name="health", scope="module")
def _health() -> Health:
    time, signals = driving(40.0)
    signals["shaft_travel"][2, 1000:1160] = np.nan
    signals["shaft_travel"][1, 3000:3300] = 0.08
    signals["specific_force_z"] = np.minimum(signals["specific_force_z"], 13.0)
    health = check_log(log_of_arrays(time, signals, "dash"))
    return Health(health.log, health.lasts, health.findings, (4.0, 21.5), health.channels, health.moves, health.motion)


def patches(health: Health) -> list[Rectangle]:
    (axes,) = draw_health(health, SECTIONS, "usable", "made up").axes
    return [patch for patch in axes.patches if isinstance(patch, Rectangle) and patch.get_hatch()]


def test_a_dropout_is_drawn_in_its_lane_at_its_time(health: Health) -> None:
    found = next(each for each in health.findings if each.kind == "dropout")
    lane = sorted(health.motion.place).index(found.rows[0])
    drawn = next(patch for patch in patches(health) if patch.get_hatch() == dress_of("dropout").hatch)
    assert drawn.get_x() + 0.5 * drawn.get_width() == pytest.approx(0.5 * (found.start + found.end))
    assert drawn.get_width() == pytest.approx(max(found.end - found.start, NARROWEST * health.lasts))
    assert lane < drawn.get_y() < lane + 1


def test_every_lane_and_section_has_its_name(health: Health) -> None:
    figure = draw_health(health, SECTIONS, "usable", "made up")
    (axes,) = figure.axes
    labels = [label.get_text() for label in axes.get_yticklabels()]
    assert labels[:4] == ["front-left travel", "front-right travel", "rear-left travel", "rear-right travel"]
    words = {text.get_text() for text in axes.texts}
    assert {"whoops-1", "corner-1", "marker"} <= words
    assert {"dropout", "stuck", "saturation"} <= words


def test_what_spoils_is_said_where_it_is_and_its_section_stands_out(health: Health) -> None:
    found = next(each for each in health.findings if each.kind == "dropout")
    crowded = [LogSection(f"a section of a long name-{index}", found.start - 2.0 + 0.4 * index, found.start - 0.1) for index in range(3)]
    spoilt = LogSection("spoilt-1", found.start - 0.05, found.end)
    (axes,) = draw_health(health, [*crowded, spoilt, LogSection("sound-1", 25.0, 30.0)], "usable", "made up").axes
    weights = {text.get_text(): text.get_fontweight() for text in axes.texts}
    assert weights["spoilt-1"] == weights[found.brief] == "bold"
    assert weights["sound-1"] == "normal"
    assert not any(section.name in weights for section in crowded[1:])  # no room is left


def test_a_channel_of_which_nothing_is_drawn_has_no_lane(health: Health) -> None:
    told = replace(next(each for each in health.findings if each.kind == "dropout"), severity=NOTE, start=np.nan, end=np.nan)
    nowhere = 1 + max(health.channels.rows)
    channels = replace(health.channels, rows={**health.channels.rows, nowhere: replace(health.channels.rows[told.rows[0]], index=nowhere)})
    for finding, more in ((told, 0), (replace(told, start=5.0, end=5.8), 1)):
        shown = replace(health, findings=(replace(finding, rows=(nowhere,)),), channels=channels)
        assert len(draw_health(shown, SECTIONS, "usable", "made up").axes[0].get_yticks()) == len(health.motion.place) + more


def test_kinds_differ_in_hatch_and_neighbours_in_lightness() -> None:
    assert len({dress.hatch for dress in DRESSES}) == len(DRESSES)
    light = [0.2126 * red + 0.7152 * green + 0.0722 * blue for red, green, blue in (to_rgb(dress.colour) for dress in DRESSES)]
    assert min(abs(one - other) for one, other in pairwise(light)) > 0.1


def test_same_picture_same_bytes(health: Health) -> None:
    assert png_bytes(draw_health(health, SECTIONS, "usable", "made up")) == png_bytes(draw_health(health, SECTIONS, "usable", "made up"))


def test_a_log_without_findings_and_sections_can_be_drawn(health: Health) -> None:
    bare = Health(health.log, health.lasts, (), None, health.channels, {}, health.motion)
    assert not patches(bare)

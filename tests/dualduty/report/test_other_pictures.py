"""Duty curves, detections and the PNG file itself."""

from __future__ import annotations

import io
import threading
from pathlib import Path

import numpy as np
import pytest
from matplotlib.collections import PatchCollection
from matplotlib.lines import Line2D
from numpy.typing import NDArray
from PIL import Image

from dualduty.errors import BadInput
from dualduty.report.detector_picture import draw_detections
from dualduty.report.duty_map import DutyCurve, draw_duty_map
from dualduty.report.figure_file import png_bytes, write_figure
from tests.dualduty.report import made_up_rows as made_up

SPEED = np.array([0.0, 10.0, 20.0])


def curve(side: str, axle: str = "front axle", more: float = 0.0) -> DutyCurve:
    before = np.array([0.2, 0.3, 0.4])
    return DutyCurve(axle, side, SPEED, before, SPEED, before + more)


def drawn(line: Line2D, axis: str) -> NDArray[np.float64]:
    return np.asarray(line.get_xdata() if axis == "x" else line.get_ydata(), dtype=float)


def test_duty_curves_are_in_said_units_and_unchanged_ones_say_so() -> None:
    figure = draw_duty_map([curve("compression"), curve("rebound", more=0.1)], "dash")
    titles = [axes.get_title(loc="left") for axes in figure.axes]
    assert titles == ["front axle compression (unchanged) [%]", "front axle rebound [%]"]
    after, before = figure.axes[1].get_lines()
    np.testing.assert_allclose(drawn(after, "x")[:3], [0.0, 36.0, 72.0])
    np.testing.assert_allclose(drawn(after, "y")[:3], [30.0, 40.0, 50.0])
    np.testing.assert_allclose(drawn(before, "y")[:3], [20.0, 30.0, 40.0])


def test_a_new_curve_has_no_before_and_no_curves_no_panels() -> None:
    none = np.empty(0)
    figure = draw_duty_map([DutyCurve("rear axle", "rebound", none, none, SPEED, np.array([0.1, 0.2, 0.3]))])
    assert drawn(figure.axes[0].get_lines()[1], "x").size == 0
    png_bytes(figure)
    assert not draw_duty_map([]).axes


def test_detections_have_a_lane_per_state_and_say_how_late() -> None:
    figure = draw_detections(made_up.DETECTIONS)
    axes = figure.axes[0]
    assert [label.get_text() for label in axes.get_yticklabels()] == ["airborne\n2 of 3", "landing left\n0 of 0, 1 false"]
    assert {"40 ms", "60 ms", "✗ missed"} <= {text.get_text() for text in axes.texts}
    assert "3 marks: 2 found, 1 missed; 1 false detections." in [text.get_text() for text in figure.texts]


def test_a_detection_starts_after_its_mark_by_the_latency() -> None:
    axes = draw_detections(made_up.DETECTIONS[:1]).axes[0]
    mark, detection = (item for item in axes.collections if isinstance(item, PatchCollection))
    assert mark.get_paths()[0].get_extents().x0 == pytest.approx(7.0)
    assert detection.get_paths()[0].get_extents().x0 == pytest.approx(7.04)
    assert detection.get_paths()[0].get_extents().x1 == pytest.approx(7.6)


def test_no_detections_and_an_instant_draw() -> None:
    assert "No marks and no detections." in [text.get_text() for text in draw_detections([]).texts]
    png_bytes(draw_detections([{"state": "landing", "kind": "missed", "start": 5.0, "end": 5.0, "latency_ms": None}]))


def test_a_figure_is_written_whole_and_reads_back(tmp_path: Path) -> None:
    path = tmp_path / "picture.png"
    write_figure(draw_detections(made_up.DETECTIONS), path)
    with Image.open(io.BytesIO(path.read_bytes())) as image:
        assert image.mode == "RGB"
        assert "Software" not in image.info
    assert list(tmp_path.iterdir()) == [path]


def test_a_place_that_can_not_be_written_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(BadInput, match="can't be written"):
        write_figure(draw_duty_map([]), tmp_path / "file" / "picture.png")


def test_threads_draw_the_same_bytes() -> None:
    wanted = png_bytes(draw_detections(made_up.DETECTIONS))
    found: list[bytes] = []
    threads = [threading.Thread(target=lambda: found.append(png_bytes(draw_detections(made_up.DETECTIONS)))) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [wanted] * 4

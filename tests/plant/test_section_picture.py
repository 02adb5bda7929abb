"""Pictures of sections."""

from __future__ import annotations

from pathlib import Path

import pytest

from dualduty.errors import BadInput
from plant.section import list_sections, read_section
from plant.section_picture import save_section_picture, section_figure
from plant.section_sheet import sheet_figure

SECTIONS = Path(__file__).resolve().parents[2] / "calibrations" / "sections"


@pytest.mark.parametrize(("name", "panels"), [("berm_corner", 3), ("braking_rough", 4)])
def test_every_axis_names_its_quantity_and_unit(name: str, panels: int) -> None:
    axes = section_figure(read_section(SECTIONS / f"{name}.toml")).axes
    assert len(axes) == panels
    assert axes[-1].get_xlabel() == "distance [m]"
    assert [axis.get_ylabel().split("[")[1] for axis in axes] == ["mm]", "km/h]", "1/km]", "%]"][:panels]


def test_picture_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    section = read_section(SECTIONS / "whoops.toml")
    path = save_section_picture(section, tmp_path / "whoops.png")
    assert path.read_bytes().startswith(b"\x89PNG")
    (tmp_path / "taken.png").mkdir()  # the picture can be drawn but not put in its place
    with pytest.raises(BadInput, match=r"taken\.png"):
        save_section_picture(section, tmp_path / "taken.png")
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["taken.png", "whoops.png"]


def test_a_held_wheel_has_a_panel_and_an_expected_speed_says_so() -> None:
    held = section_figure(read_section(SECTIONS / "step_steer.toml")).axes
    assert [axis.get_ylabel() for axis in held][-1] == "road wheels,\nleft + [deg]"
    coasting = section_figure(read_section(SECTIONS / "coast_down.toml")).axes[1].get_legend()
    assert coasting is not None
    assert [text.get_text() for text in coasting.get_texts()] == ["kept", "expected: speed keeping off"]


def test_sheet_shows_every_section_by_name() -> None:
    sections = [read_section(path) for path in list_sections(SECTIONS)[:6]]
    axes = sheet_figure(sections).axes
    titles = [axis.get_title(loc="left").split(" ")[0] for axis in axes if axis.get_title(loc="left")]
    assert titles == [section.name for section in sections]
    assert [axis.get_ylabel() for axis in axes[:3]] == ["mm", "km/h", "g"]

"""Pictures of sections."""

from __future__ import annotations

from pathlib import Path

import pytest

from dualduty.errors import BadInput
from plant.section import read_section
from plant.section_picture import save_section_picture, section_figure

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

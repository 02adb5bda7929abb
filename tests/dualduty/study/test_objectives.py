"""The objectives file: the shipped one covers the library, and whatever is wrong with one is a line."""

from __future__ import annotations

from pathlib import Path

import pytest

from dualduty.errors import BadInput
from dualduty.shipped import shipped_calibrations
from dualduty.study.objectives import read_objectives

SHIPPED = shipped_calibrations() / "objectives.toml"


def changed(tmp_path: Path, old: str, new: str) -> Path:
    text = SHIPPED.read_text(encoding="utf-8")
    assert text.count(old) >= 1
    path = tmp_path / "objectives.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return path


def test_every_section_of_the_library_has_one_objective() -> None:
    objectives = read_objectives(SHIPPED)
    named = [section for kind in objectives.kinds for section in kind.sections]
    assert sorted(named) == sorted(path.stem for path in (SHIPPED.parent / "sections").glob("*.toml"))


def test_numbers_come_in_si() -> None:
    objectives = read_objectives(SHIPPED)
    assert objectives.reference == (0.4, 0.4)
    assert objectives.floors["peak_stop_force"] == 1500.0
    assert objectives.of("iso_road").weights["weighted_seat_acceleration"] == 0.5
    assert {measure.name for measure in objectives.measures} >= {"peak_pitch", "off_ground_time"}


def test_no_weighed_measure_goes_without_a_floor() -> None:
    objectives = read_objectives(SHIPPED)
    assert {measure.name for measure in objectives.measures} <= set(objectives.floors)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "weighted_seat_acceleration = 50",
            "weighted_seat_acceleration = 60",
            r"weights_pct: expected weights that add up to 100, came 110",
        ),
        ("weighted_seat_acceleration = 50", "weighted_seat_aceleration = 50", r"did you mean 'weighted_seat_acceleration'"),
        ("weighted_seat_acceleration = 50", "travel_used = 50", r"travel_used: expected a measure of which less is better"),
        ("weighted_seat_acceleration = 50", "roll_rate_rms = 50", r"roll_rate_rms: .*read from the plant's truth"),
        ("proof = [101, 102, 103]", "proof = [11, 102]", r"seeds.proof: expected none of the tuning seeds in it, came 11"),
        ("proof = [101, 102, 103]", "proof = []", r"seeds.proof: expected a list of whole numbers"),
        ('"iso_road", "corrugation"', '"iso_road", "whoops"', r"'whoops' is in kind.rough_ride as well"),
        ("peak_stop_force_kn = 1.5", "peak_stop_force_mm = 1.5", r"floors.peak_stop_force_mm: expected the name of a measure and its unit"),
        ("compression_pct = 40", "compression_pct = 140", r"reference.compression_pct: expected a number above 0 to 100, came 140"),
        ("\n[reference]", "\n[referenc]", r"referenc: unknown; did you mean 'reference'"),
        ("draw_within_pct = 1", 'draw_within_pct = "one"', r"draw_within_pct: expected a number above 0"),
    ],
)
def test_a_mistake_is_one_line(tmp_path: Path, old: str, new: str, said: str) -> None:
    with pytest.raises(BadInput, match=said) as raised:
        read_objectives(changed(tmp_path, old, new))
    assert "\n" not in str(raised.value)


def test_a_section_without_an_objective_is_named(tmp_path: Path) -> None:
    objectives = read_objectives(changed(tmp_path, '"iso_road", ', ""))
    with pytest.raises(BadInput, match="no objective for section 'iso_road'"):
        objectives.of("iso_road")

"""Measures are found by walking their folder, and a bad one is refused in a line."""

from __future__ import annotations

from dataclasses import dataclass, make_dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

import dualduty.scoring.measures
from dualduty.errors import BadInput
from dualduty.scoring.measure import Matters, check_measure, discover_measures, measures_of

GOOD: dict[str, Any] = {
    "name": "peak_bounce", "label": "peak bounce", "unit": "m", "said": "mm", "direction": "lower", "source": "common practice",
    "needs": "truth", "matters": Matters(1e-3, 0.05, "because"), "moves_in_open_loop": False,
}  # fmt: skip


def _measure(**changed: Any) -> Any:
    return make_dataclass("PeakBounce", [], frozen=True, namespace=GOOD | changed)()


def test_every_file_of_the_folder_gives_a_measure() -> None:
    folder = Path(str(dualduty.scoring.measures.__file__)).parent
    files = {path.stem for path in folder.glob("*.py")} - {"__init__"}
    found = discover_measures()
    assert files == {type(measure).__module__.rsplit(".", 1)[-1] for measure in found.values()}
    assert {"weighted_seat_acceleration", "hard_stop_count", "mean_rebound_duty"} <= set(found)


def test_only_duties_follow_a_candidate_in_open_loop() -> None:
    moving = {name for name, measure in discover_measures().items() if measure.moves_in_open_loop}
    assert moving == {"mean_compression_duty", "mean_rebound_duty", "compression_duty_reversals", "rebound_duty_reversals"}


def test_a_new_file_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = Path(str(dualduty.scoring.measures.__file__)).parent
    text = (folder / "peak_roll.py").read_text(encoding="utf-8").replace("PeakRoll", "PeakBounce").replace("peak_roll", "peak_bounce")
    (tmp_path / "peak_bounce.py").write_text(text, encoding="utf-8")
    monkeypatch.setattr(dualduty.scoring.measures, "__path__", [*dualduty.scoring.measures.__path__, str(tmp_path)])
    assert "peak_bounce" in discover_measures()


def test_a_name_taken_twice_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = Path(str(dualduty.scoring.measures.__file__)).parent
    text = (folder / "peak_roll.py").read_text(encoding="utf-8").replace("PeakRoll", "RollAgain")
    (tmp_path / "roll_again.py").write_text(text, encoding="utf-8")
    monkeypatch.setattr(dualduty.scoring.measures, "__path__", [*dualduty.scoring.measures.__path__, str(tmp_path)])
    with pytest.raises(BadInput, match="'peak_roll' is taken by PeakRoll"):
        discover_measures()


def test_a_class_must_be_named_as_its_file() -> None:
    module = ModuleType("peak_bounce")
    module.__file__ = "peak_bounce.py"
    with pytest.raises(BadInput, match=r"peak_bounce\.py: expected a frozen dataclass PeakBounce"):
        measures_of(module)

    @dataclass
    class Loose:
        pass

    vars(module)["PeakBounce"] = Loose
    with pytest.raises(BadInput, match="frozen dataclass"):
        measures_of(module)


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"label": ""}, "label is ''; expected a text"),
        ({"source": None}, "source is None; expected a text"),
        ({"direction": "down"}, "direction is 'down'; expected one of lower, higher, none"),
        ({"needs": "log"}, "needs is 'log'; expected one of truth, sensed, either"),
        ({"name": "Peak Bounce"}, "expected lower-case words"),
        ({"said": "deg"}, "kept in m but said in deg, a unit of angle"),
        ({"said": "furlong"}, "'furlong' is not a unit known here"),
        ({"unit": "mm"}, "kept in mm; expected an SI unit"),
        ({"matters": Matters(1e-3, 0.05, "")}, "doesn't say which change matters, and why"),
    ],
)
def test_an_incomplete_measure_is_refused(changed: dict[str, Any], told: str) -> None:
    check_measure(_measure(), "peak_bounce.py")
    with pytest.raises(BadInput) as caught:
        check_measure(_measure(**changed), "peak_bounce.py")
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)


def test_the_band_is_the_larger_of_absolute_and_relative() -> None:
    matters = Matters(0.02, 0.05, "because")
    assert matters.band(0.1) == 0.02
    assert matters.band(-2.0) == 0.1

"""A new plug-in is written under its own name, over nothing, and runs as it stands: every public check, and in a strategy."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from dualduty.calibration.read import read_calibration
from dualduty.checks import check_plug_in
from dualduty.discovery import discover
from dualduty.errors import BadInput
from dualduty.new_plug_in import KINDS, names_of, usual_folder, write_plug_in
from dualduty.shipped import shipped_calibrations
from dualduty.signals import CONTROLLER_LAYOUT
from strategies.controller import Strategy

VEHICLE = (shipped_calibrations() / "vehicles" / "marram.toml").as_posix()
CALIBRATION = f"""
vehicle = "{VEHICLE}"
modes = ["patrol"]
[[layers]]
name = "base"
law = "FixedDuty"
[[layers]]
name = "rough"
law = "RoughHold"
act = "set"
when = ["rough_patch"]
"""


@pytest.mark.parametrize(
    ("said", "names"),
    [
        ("RoughHold", ("RoughHold", "rough_hold")),
        ("rough_hold", ("RoughHold", "rough_hold")),
        ("rough-hold", ("RoughHold", "rough_hold")),
        ("Rough hold 2", ("RoughHold2", "rough_hold_2")),
        ("hold", ("Hold", "hold")),
    ],
)
def test_names_however_they_are_said(said: str, names: tuple[str, str]) -> None:
    assert names_of(said) == names


@pytest.mark.parametrize("said", ["", "3x", "class", "rough/hold", "../hold", "böse", "tyre_valid", "wheel strength", "None", "true"])
def test_a_name_that_can_not_be_one_is_refused(said: str) -> None:
    with pytest.raises(BadInput, match="expected words of letters and digits"):
        names_of(said)


def test_where_a_plug_in_belongs(tmp_path: Path) -> None:
    assert usual_folder("law", tmp_path) == tmp_path
    (tmp_path / "sections").mkdir()
    assert usual_folder("detector", tmp_path) == tmp_path / "strategies" / "detectors"


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    path = write_plug_in("law", "RoughHold", tmp_path)
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(BadInput, match=r"rough_hold.py: exists already and is left as it is"):
        write_plug_in("law", "rough_hold", tmp_path)
    assert path.read_text(encoding="utf-8") == "mine"
    assert [entry.name for entry in tmp_path.iterdir()] == ["rough_hold.py"]


@pytest.mark.parametrize(
    ("kind", "said", "name"),
    [
        ("law", "roll hold", "RollHold"),
        ("detector", "Airborne", "Airborne"),
        ("estimator", "brake", "brake"),
        ("law", "any", "Any"),
        ("detector", "dt", "dt"),
    ],
)
def test_a_name_that_is_taken_is_refused(kind: str, said: str, name: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=f"{name} is there already"):
        write_plug_in(kind, said, tmp_path, taken=("RollHold", "Airborne", "airborne", "brake"))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("kind", KINDS)
def test_a_skeleton_asks_for_what_its_author_must_say(kind: str, tmp_path: Path) -> None:
    text = write_plug_in(kind, f"my {kind}", tmp_path).read_text(encoding="utf-8")
    assert all(f"    {word}:" in text for word in ("Formula", "Source", "Holds for", "Not for"))
    assert "New" not in text.replace("Newton", "")
    assert f"new_{kind}" not in text


@pytest.mark.parametrize("kind", KINDS)
def test_a_skeleton_passes_every_public_check(kind: str, tmp_path: Path) -> None:
    path = write_plug_in(kind, f"my {kind}", tmp_path)
    plug_ins = discover((path,))
    found = plug_ins.by_name[f"My{kind.capitalize()}"]
    assert (found.kind, found.source) == (kind, path)
    check_plug_in(found, plug_ins, None)


def test_skeletons_run_in_a_strategy(tmp_path: Path) -> None:
    """A law opened by a new detector, reading a new estimator: while the nose goes down fast, its duty stands in place of the base's."""
    files = [
        write_plug_in(*named, tmp_path) for named in (("law", "rough hold"), ("detector", "rough patch"), ("estimator", "slow travel"))
    ]
    text = files[0].read_text(encoding="utf-8")
    assert "now.shaft_speed[corner]" in text
    files[0].write_text(text.replace("now.shaft_speed[corner]", "now.slow_travel[corner]"), encoding="utf-8")
    calibration = tmp_path / "rough.toml"
    calibration.write_text(CALIBRATION, encoding="utf-8")
    plug_ins = discover(tuple(files))
    strategy = Strategy([read_calibration(calibration, plug_ins)], [0], plug_ins, 0.002)
    sensed = np.repeat(CONTROLLER_LAYOUT.per_row("rest").reshape(-1, 1, 1), 400, axis=1)
    sensed[CONTROLLER_LAYOUT.rows["pitch_rate"], 200:] = 1.0
    sensed[CONTROLLER_LAYOUT.rows["shaft_travel"]] = 0.4
    sensed += 1e-6 * np.random.default_rng(1).normal(size=sensed.shape)  # a channel that never stirs would be taken for stuck
    output = strategy.run(sensed, np.zeros((1, 400, 1), np.int16), strategy.start())
    np.testing.assert_array_equal(output.states["rough_patch"][0, [190, 399], 0], [0.0, 1.0])
    np.testing.assert_allclose(output.asked["compression"][:, 190, 0], 0.5)
    np.testing.assert_allclose(output.asked["compression"][:, 399, 0], 0.4 * 0.4 / 0.8, rtol=1e-4)  # the noise of 1e-6 m
    assert output.layer["rebound"][0, 399, 0] == 1

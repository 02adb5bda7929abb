"""`try` with a sensors file and a faults file: both reach the controller, both are told, and bad ones are one line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

Command = Callable[..., tuple[int, str, str]]
SHORT = ("--section", "berm_corner", "--mode", "dash", "--no-logs", "--quiet")
FAULTS = Path("sensors/travel_lost_and_power_cut.toml")


def duty_of(folder: Path) -> list[str]:
    """What was commanded, on both sides and at every corner that the scorecard has."""
    rows = (folder / "scorecard.csv").read_text(encoding="utf-8").splitlines()
    return [row for row in rows if "mean_rebound_duty" in row or "mean_compression_duty" in row or "duty_reversals" in row]


def test_faults_change_what_is_commanded_and_are_told(work: Path, run: Command) -> None:
    plain, _, _ = run("try", "berm_support", *SHORT, "--out", "plain")
    code, out, _ = run("try", "berm_support", *SHORT, "--out", "faulty", "--faults", str(FAULTS))
    assert plain == code == 0
    assert "put in   fault stuck shaft_travel rear_left, from 1.5 s on" in out
    assert duty_of(work / "faulty") != duty_of(work / "plain")
    manifest = json.loads((work / "faulty" / "berm_support_manifest.json").read_text(encoding="utf-8"))
    assert len(manifest["tried"]["faults_put_in"]) == 3


def test_other_sensors_change_what_is_commanded(work: Path, run: Command) -> None:
    run("try", "berm_support", *SHORT, "--out", "plain")
    code, _, _ = run("try", "berm_support", *SHORT, "--out", "tired", "--sensors", "sensors/tired.toml")
    assert code == 0
    assert duty_of(work / "tired") != duty_of(work / "plain")


def test_a_sensors_file_given_as_faults_is_one_line(work: Path, run: Command) -> None:
    code, out, said = run("try", "berm_support", *SHORT, "--out", "none", "--faults", "sensors/tired.toml")
    assert code == 2
    assert out == ""
    assert said == "dualduty: sensors/tired.toml: provenance: unknown key; expected one of fault\n"
    assert not (work / "none").exists()


def test_a_fault_in_a_section_that_is_not_driven_is_refused(work: Path, run: Command) -> None:
    (work / "f.toml").write_text('[[fault]]\nkind = "stuck"\nchannel = "brake"\nsection = "whoops"\n', encoding="utf-8")
    code, _, said = run("try", "berm_support", *SHORT, "--out", "none", "--faults", "f.toml")
    assert code == 2
    assert "no case has section 'whoops'" in said
    assert not (work / "none").exists()

"""`why` as a user meets it: on a log, beside another calibration, and where something given can't be used."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from dualduty.command_line.why_command import PLACES
from dualduty.signals import ROLES

Command = Callable[..., tuple[int, str, str]]
LOG = ("--log", "quarry_loop_dash", "--quiet")


def test_a_log_is_explained_in_words_table_and_picture(work: Path, run: Command) -> None:
    code, out, _ = run("why", "firm_landing", *LOG, "--at", "touchdown+0.2", "--corner", "rear-left", "--against", "marram_baseline")
    assert code == 0
    lines = out.splitlines()
    assert lines[0].startswith("quarry_loop_dash · as driven, firm landing, at ")
    compression = next(line for line in lines if line.startswith("rear-left compression"))
    assert "% : landing since 0.20 s".replace(" :", ":") in compression
    assert any(line.startswith("    landing asks ") and "marram baseline" in line for line in lines)
    assert lines[-1] == "pictures and tables in results/why_firm_landing_quarry_loop_dash"
    folder = work / "results" / "why_firm_landing_quarry_loop_dash"
    assert sorted(path.name for path in folder.iterdir()) == ["moment.json", "rear_left.csv", "rear_left.png", "written_by_dualduty.txt"]
    told = json.loads((folder / "moment.json").read_text(encoding="utf-8"))
    assert [(entry["calibration"], entry["side"], entry["decided"]["name"]) for entry in told] == [
        (name, side, "landing") for name in ("firm landing", "marram baseline") for side in ("compression", "rebound")
    ]
    with (folder / "rear_left.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    at = min((row for row in rows if row["side"] == "compression"), key=lambda row: abs(float(row["time_s"]) - told[0]["time"]))
    assert at["decided_by"] == "landing"
    assert f" {float(at['duty_pct']):.0f} %:" in compression


@pytest.mark.usefixtures("work")
def test_a_section_on_other_hardware_beside_the_same_calibration_without_it(run: Command) -> None:
    section = ("--section", "iso_road", "--mode", "dash", "--at", "0.4", "--corner", "rear-left", "--side", "compression", "--quiet")
    code, out, _ = run("why", "marram_baseline", *section, "--hardware", "rear_bypass_zone", "--against", "marram_baseline")
    assert code == 0
    assert "iso_road · dash, marram baseline on rear_bypass_zone, at 0.40 s\nrear-left compression " in out
    assert "\n  marram baseline: rear-left compression " in out
    assert "hardware changed: zone rear compression" in out
    assert "plant not compared with a vehicle" in out


@pytest.mark.usefixtures("work")
def test_one_side_of_an_axle_only(run: Command) -> None:
    code, out, _ = run("why", "marram_baseline", *LOG, "--at", "1", "--corner", "rear", "--side", "rebound", "--window", "0.4")
    assert code == 0
    assert [line.split(":")[0].rsplit(" ", 2)[0] for line in out.splitlines() if "rebound" in line and ":" in line] == [
        "rear-left rebound", "rear-right rebound",
    ]  # fmt: skip
    assert "compression" not in out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--at", "1"), "expected either --log or --section"),
        (("--at", "1", "--log", "quarry_loop_dash", "--section", "whoops"), "expected either --log or --section"),
        (("--at", "1", "--log", "quarry_loop_dash", "--payload", "crew"), "--payload goes with --section"),
        (("--at", "1", "--section", "whoops"), "--section needs --mode"),
        (("--at", "1", "--section", "whoops", "--mode", "dsh"), "drive mode dsh: is not known to"),
        (("--at", "99", *LOG), "--at: expected a time within the run, which lasts "),
        (("--at", "whoop", *LOG), "--at whoop: no state 'whoop' is detected here"),
        (("--at", "1", "--log", "quarry_lop_dash"), "did you mean 'quarry_loop_dash'?"),
    ],
)
def test_one_line_for_what_can_not_be_used(arguments: tuple[str, ...], said: str, run: Command, work: Path) -> None:
    code, out, err = run("why", "marram_baseline", *arguments)
    assert (code, out) == (2, "")
    assert said in err
    assert len(err.splitlines()) == 1
    assert not (work / "results").exists()


def test_every_corner_axle_and_side_can_be_asked_for() -> None:
    assert {place.replace("-", "_") for place in PLACES} == set(ROLES)


def test_a_drive_mode_left_open_is_noticed_once(work: Path, run: Command) -> None:
    text = '[[layers]]\nname = "corner support"\nfade_in_ms.dash = 90\n'
    (work / "strategies" / "slow_in.toml").write_text(f'name = "slow in"\nstarts_from = "marram_baseline.toml"\n{text}', encoding="utf-8")
    notice = 'noticed: strategies/slow_in.toml: layers[0] "corner support".fade_in_ms: given for dash only; patrol and haul have '
    replay, export, check = ("replay", "quarry_loop_dash", "slow_in", "--quiet"), ("export", "slow_in"), ("check", "slow_in", "--quiet")
    for command in (replay, export, check):
        code, out, err = run(*command)
        assert (code < 2, err) == (True, ""), command
        assert out.count("noticed: strategies/") == 1, command
        assert notice in out, command

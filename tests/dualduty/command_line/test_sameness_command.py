"""`sameness` as a user meets it: a log that bears out its calibration, one that does not, one that can't tell, and bad input."""

from __future__ import annotations

import csv
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from dualduty.calibration.read import read_calibration
from dualduty.discovery import discover
from dualduty.shipped import shipped_calibrations
from dualduty.trial.logs import replay_run
from dualduty.trial.run_sheet import read_run_sheet
from dualduty.trial.sameness import grounding, log_step

Command = Callable[..., tuple[int, str, str]]
LOG = "quarry_loop_patrol"


@pytest.fixture(name="folder")
def _folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the shipped demo with its logs whole, made the folder one stands in."""
    folder = tmp_path / "marram"
    shutil.copytree(shipped_calibrations(), folder, ignore=shutil.ignore_patterns("__pycache__", "quarry_loop_dash*"))
    monkeypatch.chdir(folder)
    return folder


def change(path: Path, pattern: str, put: str) -> None:
    """Change a file in one place at least."""
    text, changes = re.subn(pattern, put, path.read_text(encoding="utf-8"), flags=re.MULTILINE | re.DOTALL)
    assert changes
    path.write_text(text, encoding="utf-8")


def rows(path: Path) -> list[dict[str, str]]:
    """Rows of a CSV file."""
    with path.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_a_log_bears_out_its_calibration_and_a_candidate_parts_in_flight(folder: Path, run: Command) -> None:
    code, out, _ = run("sameness", LOG, "firm_landing", "--quiet")
    assert code == 0
    lines = out.splitlines()
    assert lines[0].startswith(f"{LOG}: grounded: marram baseline agrees with logged ")
    assert "; time offset +" in lines[0]
    target = folder / "results" / f"sameness_{LOG}"
    assert lines[-1] == f"tables and pictures in results/sameness_{LOG}"
    assert {"agreement.csv", "agreement.png", "events.csv", "partings.csv", "partings.png"} <= {path.name for path in target.iterdir()}
    agreement = rows(target / "agreement.csv")
    assert {row["side"] for row in agreement} == {"compression", "rebound"}
    assert all(float(row["agree_pct"]) > 95.0 for row in agreement if row["corner"])
    parted = rows(target / "partings.csv")
    assert {row["decided_by"] for row in parted} <= {"flight preset", "landing"}
    assert all(row["side"] == "compression" for row in parted)
    assert all(float(row["apart_pct"]) > float(row["driver_apart_pct"]) + 1.0 for row in parted)
    assert any("landing asks 92 %, marram baseline 77 %" in row["told"] for row in parted)


@pytest.mark.slow
@pytest.mark.usefixtures("folder")
def test_the_driver_itself_parts_nowhere_and_a_window_bounds_the_search(run: Command) -> None:
    code, out, _ = run("sameness", LOG, "marram_baseline", "--quiet")
    assert code == 0
    assert "marram baseline lies no further from the log than the replay of what drove it" in out
    assert " parts from the log" not in run("sameness", LOG, "firm_landing", "--window", "8", "20", "--quiet")[1]


def test_a_log_that_was_driven_with_another_calibration(folder: Path, run: Command) -> None:
    change(folder / "logs" / f"{LOG}.toml", r'driven_by = ".*?"', 'driven_by = "firm landing"')
    (folder / "strategies" / "broken.toml").write_text('name = "broken"\nlayers = 3\n', encoding="utf-8")
    code, out, _ = run("sameness", LOG, "--quiet", "--which")
    assert "  broken was not tried: " in out
    assert code == 1
    told = " ".join(out.split())
    assert f"{LOG}: not grounded: firm landing agrees with logged " in told
    assert "where flight preset decides compression" in told
    assert "logged lies 15 points below, steadily: one of its duties may be another" in told
    both = "(marram baseline or berm support|berm support or marram baseline)"
    driven = f"the log looks as if it was driven with {both}, which do the same on it, not firm landing; from firm landing it differs in "
    assert re.search(f"{LOG}: {driven}", told)
    assert "dash" not in told.rpartition(" differs in ")[2]  # only patrol was driven
    assert "LandingOverride.compression" in told or "FlightPreset.compression" in told


def test_a_log_without_duties_can_not_tell(folder: Path, run: Command) -> None:
    change(folder / "channel_maps" / "marram_logger.toml", r"^\[signals\.applied_compression\].*?(?=^\[signals\.seat)", "")
    code, out, _ = run("sameness", LOG, "--quiet")
    assert code == 1
    assert f"{LOG}: not grounded, can't tell: the log records states of its own controller, but no duties" in " ".join(out.split())
    assert not (folder / "results" / f"sameness_{LOG}" / "agreement.png").exists()


def test_bad_input_is_one_line_and_nothing_is_written(folder: Path, run: Command) -> None:
    assert run("sameness", LOG, "--window", "3", "9")[0] == 2
    assert run("sameness", LOG, "firm_landing", "--window", "9", "3")[0] == 2
    change(folder / "logs" / f"{LOG}.toml", r'driven_by = ".*?"', 'driven_by = "marsh"')
    code, _, err = run("sameness", LOG)
    assert code == 2
    assert len(err.splitlines()) == 1
    assert f"run {LOG}: driven_by: expected a calibration of " in err
    assert "came 'marsh'; known: berm support, firm landing, " in err
    assert not (folder / "results").exists()


def test_grounding_of_what_was_replayed_anyway(folder: Path) -> None:
    plug_ins = discover()
    driver, other = (read_calibration(folder / "strategies" / f"{name}.toml", plug_ins) for name in ("marram_baseline", "firm_landing"))
    sheet = read_run_sheet(folder / "logs" / f"{LOG}.toml")
    assert log_step(sheet.open()) == pytest.approx(0.005, abs=0.0015)  # stamps come in ticks of 2 ms
    replayed = replay_run(sheet, [driver, other], plug_ins)
    assert grounding(replayed).grounded
    alone = grounding(replay_run(sheet, [other], plug_ins))
    assert not alone.grounded
    assert alone.text == "not grounded, not checked: the log names marram baseline, which was not replayed"

"""README.md: opens with the job, shows the cautions, and every command in it prints what it says."""

from __future__ import annotations

import csv
import os
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from dualduty.cautions import CAUTIONS
from dualduty.command_line import COMMANDS
from dualduty.report.verdict import VERDICTS
from tests.docs import documents as docs
from tests.docs.documents import README, ROOT, Shown

TEXT = README.read_text(encoding="utf-8")
SETS_UP = ("main job", "tests")
EXIT = "exit code "  # before a block whose commands find what they look for
SHOWN = [one for one in docs.shown(README) if one.block.note not in SETS_UP]
PICTURES = {"docs/scorecard_dash.png": "scores_dash.png", "docs/duties_berm_corner_dash.png": "duties_berm_corner_dash.png"}
LARGEST_PICTURE = 200_000  # bytes


@pytest.fixture(scope="module")
def outputs(tmp_path_factory: pytest.TempPathFactory) -> dict[docs.Block, str]:
    """What every command of the README printed, run in order, in one folder, as a reader would."""
    came: dict[docs.Block, str] = {}
    asked = [block for block in docs.blocks(README) if block.note not in SETS_UP]
    with docs.inside(tmp_path_factory.mktemp("readme")):
        for block in asked:
            if block.note.startswith("file: "):
                Path(block.note.removeprefix("file: ")).write_text(block.text + "\n", encoding="utf-8")
            elif block.note.startswith("fault: "):
                came[block] = _with_fault(block.note)
            elif block.language == "sh":
                came[block] = "".join(_run(command, _expected(block.note)) for command in block.commands())
    if docs.WRITES:
        docs.write(README, {one.output: came[_command(one)] for one in SHOWN})
    return came


def _command(one: Shown) -> docs.Block:
    """The block whose output is shown: a fault tells its own, as a file has none."""
    return one.output if one.output.note else one.block


def _expected(note: str) -> int:
    return int(note.removeprefix(EXIT)) if note.startswith(EXIT) else 0


def _run(command: list[str], expected: int) -> str:
    if command[0] == "cd":
        os.chdir(command[1])
        return ""
    if command[0] == "python":
        environment = os.environ | {"PYTHONPATH": str(ROOT)}
        return subprocess.run([sys.executable, *command[1:]], check=True, capture_output=True, text=True, env=environment).stdout
    assert command[0] == "dualduty"
    code, said = docs.dualduty(command[1:])
    assert code == expected, said
    return said


def _with_fault(note: str) -> str:
    """What is said about the calibration file with one line changed; the file is put right again."""
    before, after = note.removeprefix("fault: ").split(" -> ")
    path = Path("strategies/firmer_berm.toml")
    good = path.read_text(encoding="utf-8")
    assert before in good
    path.write_text(good.replace(before, after), encoding="utf-8")
    code, said = docs.dualduty(["export", "firmer_berm"])
    path.write_text(good, encoding="utf-8")
    assert code == 2
    return said


@pytest.mark.parametrize("one", SHOWN, ids=lambda one: one.block.text.splitlines()[0][:50])
def test_a_command_prints_what_is_shown(one: Shown, outputs: dict[docs.Block, str]) -> None:
    if docs.WRITES:
        pytest.skip("written")
    assert docs.told_apart(one.output.text, outputs[_command(one)]) == ""


def test_every_command_is_run(outputs: dict[docs.Block, str]) -> None:
    asked = [block.text for block in docs.blocks(README) if block.language == "sh" and block.note not in SETS_UP]
    assert asked == [block.text for block in outputs if block.language == "sh"]


@pytest.mark.slow
def test_the_main_job_prints_what_is_shown(tmp_path: Path) -> None:
    block, output = docs.noted(README, "main job"), docs.noted(README, "prints: main job")
    command = block.commands()[0]
    arguments = [str(ROOT / word) if word == "calibrations" else word for word in command[command.index(".venv/bin/dualduty") + 1 :]]
    with docs.inside(tmp_path):
        code, said = docs.dualduty(arguments)
    assert code == 0, said
    written = tmp_path / "results" / "berm_support"
    if docs.WRITES:
        docs.write(README, {output: said})
        for picture, made in PICTURES.items():
            shutil.copy(written / made, ROOT / picture)
        pytest.skip("written")
    assert docs.told_apart(output.text, said) == ""
    assert {"report.html", "scorecard.csv", *PICTURES.values()} <= {path.name for path in written.iterdir()}


@pytest.mark.slow
def test_six_seeds_settle_what_three_leave_open(tmp_path: Path) -> None:
    cards = {}
    with docs.inside(tmp_path):
        for seeds in ("3", "6"):
            places = ["--section", "berm_corner", "--section", "rough_corner", "--mode", "dash", "--no-logs"]
            asked = ["berm_support", "--folder", str(ROOT / "calibrations"), *places, "--seeds", seeds, "--out", seeds]
            code, said = docs.dualduty(["try", *asked])
            assert code == 0, said
            with Path(seeds, "scorecard.csv").open(encoding="utf-8", newline="") as file:
                cards[seeds] = {(row["section"], row["measure"]): row["verdict"] for row in csv.DictReader(file)}
    verdicts = Counter(cards["6"].values())
    assert cards["3"]["rough_corner", "weighted_seat_acceleration"] == "can't tell"
    assert cards["6"]["rough_corner", "weighted_seat_acceleration"] == "worse"
    assert Counter(cards["3"].values())["can't tell"] > 10
    assert (verdicts["better"], verdicts["worse"]) == (2, 1)
    assert verdicts["can't tell"] <= 5


def test_it_opens_with_the_job_in_one_paragraph() -> None:
    title, job, after = TEXT.split("\n\n")[:3]
    assert title == "# dualduty"
    wanted = {"engineer", "calibrates", "compression", "rebound", "off-road", "between two runs", "simulated", "logs", "better", "table"}
    assert {word for word in wanted if word not in " ".join(job.split())} == set()
    assert after.startswith("> **Cautions**")


@pytest.mark.parametrize("caution", CAUTIONS)
def test_every_caution_stands_in_it(caution: str) -> None:
    assert caution in TEXT


def test_the_set_up_is_the_one_that_ci_uses() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    tests = docs.noted(README, "tests").text
    assert f'without_readme="{tests}"' in script
    main_job = docs.noted(README, "main job").text
    assert main_job.split(" && ")[:-1] == [part.replace("'.[dev]'", ".") for part in tests.split(" && ")[:-1]]


def test_every_command_is_in_the_table() -> None:
    assert [name for name in COMMANDS if f"| `dualduty {name} " not in TEXT] == []


def test_every_verdict_is_explained() -> None:
    rows = [line.split("|")[1] for line in TEXT.splitlines() if line.startswith("| ")]
    explained = {word.strip() for row in rows for word in row.split(",")}
    assert set(VERDICTS) <= explained


@pytest.mark.parametrize("picture", PICTURES)
def test_pictures_are_there_and_small(picture: str) -> None:
    assert f"({picture})" in TEXT
    assert 10_000 < (ROOT / picture).stat().st_size < LARGEST_PICTURE

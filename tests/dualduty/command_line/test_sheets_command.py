"""`dualduty sheets ...`: each command does its job, says so, and ends with the exit code that its help promises."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from dualduty.command_line.sheets_command import COMMANDS
from dualduty.damper_map import read_damper_map
from dualduty.shipped import shipped_calibrations

Command = Callable[..., tuple[int, str, str]]

DYNO = shipped_calibrations() / "dyno"
CAR_2 = str(DYNO / "marram_2")
GOOD = str(DYNO / "marram_2" / "MD-2203.csv")
WEAK = str(DYNO / "marram_2" / "MD-2204.csv")
REVERSED = str(DYNO / "marram_1" / "MD-2101.csv")
REQUEST = str(DYNO / "rear_support_request.toml")
EIGHT = (CAR_2, str(DYNO / "marram_1" / "corrected"), *(str(DYNO / "marram_1" / f"MD-210{place}.csv") for place in (2, 3, 4)))


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_explains_itself(run: Command, name: str) -> None:
    code, out, _ = run("sheets", name, "--help")
    assert (code, "Usage: dualduty sheets " + name in out) == (0, True)


def test_help_imports_nothing_heavy() -> None:
    source = (
        "import sys\n"
        "from dualduty.command_line import cli\n"
        "for words in (['sheets', '--help'], *(['sheets', name, '--help'] for name in sys.argv[1:])):\n"
        "    try:\n        cli.main(words, prog_name='dualduty')\n    except SystemExit:\n        pass\n"
        "print([name for name in ('numpy', 'numba', 'matplotlib', 'rich') if name in sys.modules])\n"
    )
    came = subprocess.run([sys.executable, "-c", source, *COMMANDS], capture_output=True, text=True, check=True)
    assert came.stdout.splitlines()[-1] == "[]"


def test_check_tells_the_good_and_refuses_the_reversed_one(run: Command) -> None:
    code, out, err = run("sheets", "check", GOOD, REVERSED)
    assert code == 2
    assert out.splitlines()[0].startswith("MD-2203  marram_2 rear-left, MR-3 valving 7: at 4.5 m/s and full duty compression 8.69 kN")
    assert out.splitlines()[-1] == "1 read, 1 refused"
    assert err.startswith("dualduty: ")
    assert "MD-2101.csv: line 250: speed and force are reversed" in err


def test_compare_names_the_odd_one_of_eight(run: Command, tmp_path: Path) -> None:
    code, out, _ = run("sheets", "compare", *EIGHT, "--out", str(tmp_path / "pictures"))
    assert code == 1
    odd = [line for line in out.splitlines() if line.startswith("odd: ")]
    assert odd == ["odd: MD-2204 rear-right rebound 12 % weak from 1.0 to 4.5 m/s, at all duties (against median of 4 rear dampers)"]
    assert {"forces.png", "deviation.png", "crosstalk_MD-2204.png"} <= {path.name for path in (tmp_path / "pictures").iterdir()}


def test_compare_of_one_car_says_differ_and_with_the_nominal_map_odd(run: Command) -> None:
    code, out, _ = run("sheets", "compare", CAR_2)
    assert (code, out.count("differ: MD-2204 rear-right rebound 12 % weaker than MD-2203")) == (1, 1)
    code, out, _ = run("sheets", "compare", CAR_2, "--nominal", str(shipped_calibrations() / "vehicles" / "marram_2.toml"))
    assert (code, out.count("odd: MD-2204 rear-right rebound 13 % weak from 1.0")) == (1, 1)


def test_compare_within_a_wider_corridor_finds_nothing(run: Command) -> None:
    code, out, _ = run("sheets", "compare", CAR_2, "--within", "15")
    assert (code, out.splitlines()[-1]) == (0, "no damper leaves its corridor")


def test_change_tells_each_side(run: Command, tmp_path: Path) -> None:
    code, out, _ = run("sheets", "change", GOOD, WEAK, "--out", str(tmp_path / "change.png"))
    assert code == 0
    assert "rebound -12 % from 1.0 to 4.5 m/s, at all duties" in out.splitlines()
    assert (tmp_path / "change.png").stat().st_size > 10_000


def test_ask_and_answer(run: Command, tmp_path: Path) -> None:
    code, out, _ = run("sheets", "ask", REQUEST, "--out", str(tmp_path / "ask"))
    assert (code, out.splitlines()[-1]) == (0, f"wrote {tmp_path / 'ask'}")
    assert read_damper_map(tmp_path / "ask" / "asked_rear_left_compression.csv").forces.max() > 9900.0
    code, out, _ = run("sheets", "answer", REQUEST, CAR_2, "--out", str(tmp_path / "answer.png"))
    assert (code, out.count("NOT met"), out.count("not asked")) == (1, 3, 0)
    assert "not as asked" in out
    assert (tmp_path / "answer.png").is_file()


def test_map_writes_what_reads_back(run: Command, tmp_path: Path) -> None:
    code, _, _ = run("sheets", "map", GOOD, "--out", str(tmp_path))
    maps = {side: read_damper_map(tmp_path / f"MD-2203_{side}.csv") for side in ("compression", "rebound")}
    assert code == 0
    assert all(np.diff(each.forces, axis=0).min() > 0.0 for each in maps.values())
    assert maps["rebound"].forces[-1, -1] > maps["compression"].forces[-1, -1]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("compare", "nix"), "nix"),
        (("compare", GOOD), "sheets: nothing to compare (MD-2203 rear-left)"),
        (("compare", GOOD, GOOD), "MD-2203 is on more than one sheet"),
        (("compare", GOOD, REVERSED), "reversed against the declared sign"),
        (("compare", CAR_2, "--nominal", "nix.toml"), "nix.toml"),
        (("change", GOOD, "nix.csv"), "nix.csv"),
        (("change", GOOD, WEAK, "--out", "x.jpg"), "--out: expected the name of a PNG file, came 'x.jpg'"),
        (("answer", REQUEST, GOOD, "--out", "x.jpg"), "--out: expected the name of a PNG file, came 'x.jpg'"),
        (("ask", GOOD, "--out", "y"), "is not valid TOML"),
        (("ask", REQUEST, "--out", REQUEST), "expected the name of a folder"),
        (("map", REQUEST, "--out", "y"), "rear_support_request.toml"),
        (("compre",), "did you mean 'compare'?"),
        (("check",), "Missing argument"),
    ],
)
def test_bad_input_is_told_in_lines_that_end_with_2(
    run: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], said: str
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    code, _, err = run("sheets", *words)
    assert code == 2
    assert said in err
    assert all(line.startswith("dualduty: ") for line in err.splitlines())
    assert list(tmp_path.iterdir()) == []

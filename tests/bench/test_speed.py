"""Where the time goes. Prints a table with -s and asserts nothing about time: a shared machine may be several times slower."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

import dualduty
from dualduty.trial.folder import make_work_folder

pytestmark = pytest.mark.slow

HOUSE = Path(dualduty.__file__).parent.parent
PROBES = Path(__file__).with_name("probes.py")
ENVIRONMENT = os.environ | {"PYTHONPATH": str(HOUSE)}


def say(*rows: tuple[str, str]) -> None:
    """Rows of the table, on the terminal where -s lets them through."""
    sys.stdout.write("".join(f"\n  {what:<62} {number}" for what, number in rows))


def probe(name: str, *arguments: object) -> dict[str, Any]:
    """What one probe measured in a process of its own."""
    command = [sys.executable, str(PROBES), name, *(str(argument) for argument in arguments)]
    done = subprocess.run(command, capture_output=True, text=True, env=ENVIRONMENT, check=True)
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def tried(folder: Path, **environment: str) -> tuple[str, str]:
    """The main job in a fresh working folder: what it says of its time, and what it said while compiling."""
    make_work_folder(folder)
    command = [sys.executable, "-m", "dualduty", "try", "berm_support", "--quiet"]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, env=ENVIRONMENT | environment, check=True)
    return done.stdout.splitlines()[-1], done.stderr


def test_the_main_job(tmp_path: Path) -> None:
    tried(tmp_path / "warming")
    last, _ = tried(tmp_path / "warm")
    compute = re.search(r"compute ([\d.]+) s", last)
    assert compute
    say(("main job, warm: 7 sections, 3 modes, 2 logs: compute", f"{float(compute[1]):6.1f} s"), ("", last))


def test_the_first_run_on_a_machine(tmp_path: Path) -> None:
    last, said = tried(tmp_path / "first", DUALDUTY_CACHE=str(tmp_path / "cache"))
    assert "compiling kernels, once" in said
    whole = re.search(r"([\d.]+) s in all", last)
    compiled = re.search(r"compiled .*?in ([\d.]+) s", said)
    assert whole
    assert compiled
    say(("first run, empty kernel cache: in all", f"{float(whole[1]):6.1f} s"), ("  of it compiling", f"{float(compiled[1]):6.1f} s"))


def test_an_hour_of_a_log_in_memory() -> None:
    short, long = probe("log", 6), probe("log", 60)
    assert long["ticks"] == 10 * short["ticks"]
    for minutes, found in ((6, short), (60, long)):
        say(
            (f"log of {minutes} min at 500 Hz through the baseline", f"{found['seconds']:6.1f} s"),
            ("  the log in memory", f"{found['log_mb']:6.0f} MB"),
            ("  peak of the process without the log", f"{found['peak_mb'] - found['log_mb']:6.0f} MB"),
        )


def test_a_tick_of_the_strategy() -> None:
    for cases in (1, 42):
        found = probe("tick", cases)
        say((f"a tick of the baseline, {cases} case{'s' if cases > 1 else ''}", f"{1e3 * found['seconds']:6.2f} ms"))


def test_the_share_of_the_plant() -> None:
    found = probe("plant")
    say(
        (f"closed loop, {found['cases']} cases, {found['driven']:.0f} s driven", f"{found['seconds']:6.1f} s"),
        ("  of it the strategy", f"{100 * found['strategy'] / found['seconds']:6.0f} %"),
        ("  of it the plant and what joins them", f"{100 * (1 - found['strategy'] / found['seconds']):6.0f} %"),
    )

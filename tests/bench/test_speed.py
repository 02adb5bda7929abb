"""Where the time goes. Prints a table with -s and asserts nothing about time: a shared machine may be several times slower."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import dualduty
from dualduty.trial.folder import make_work_folder

pytestmark = pytest.mark.slow

HOUSE = Path(dualduty.__file__).parent.parent
PROBES = Path(__file__).with_name("probes.py")
PLANT = Path(__file__).with_name("plant_probes.py")
ENVIRONMENT = os.environ | {"PYTHONPATH": str(HOUSE)}


def say(*rows: tuple[str, str]) -> None:
    """Rows of the table, on the terminal where -s lets them through."""
    sys.stdout.write("".join(f"\n  {what:<62} {number}" for what, number in rows))


def probe(name: str, *arguments: object, source: Path = PROBES, **environment: str) -> dict[str, Any]:
    """What one probe measured in a process of its own."""
    command = [sys.executable, str(source), name, *(str(argument) for argument in arguments)]
    done = subprocess.run(command, capture_output=True, text=True, env=ENVIRONMENT | environment, check=True)
    found: dict[str, Any] = json.loads(done.stdout)
    if "skipped" in found:
        pytest.skip(found["skipped"])
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
    for which in ("baseline", "whole"):
        for cases in (1, 42, 512):
            found = probe("tick", cases, which)
            parts = f"{found['suppliers']} estimators and detectors, {found['layers']} layers"
            one = f"{1e6 * found['seconds']:6.0f} us a tick, {1e6 * found['seconds'] / cases:6.2f} us a case-tick"
            say((f"strategy, {which} ({parts}), {cases} case{'s' if cases > 1 else ''}", one))
        say((f"  {which} over a log, 1 case", f"{1e6 * probe('chunk', which)['seconds']:6.2f} us a tick"))
    beside = probe("speed", source=PLANT)["rough_corner"]
    say(("  beside it: the plant, two steps of 1 ms a tick, one case", f"{2.0 * beside['noted']:6.2f} us a tick"))


def test_the_share_of_the_plant() -> None:
    found = probe("plant")
    say(
        (f"closed loop, {found['cases']} cases, {found['driven']:.0f} s driven", f"{found['seconds']:6.1f} s"),
        ("  of it the strategy", f"{100 * found['strategy'] / found['seconds']:6.0f} %"),
        ("  of it the plant and what joins them", f"{100 * (1 - found['strategy'] / found['seconds']):6.0f} %"),
    )


def test_one_case_and_its_twin_in_c() -> None:
    found = probe("speed", source=PLANT)
    for name in ("rough_corner", "kicker_jump"):
        one = found[name]
        say(
            (f"one case, {name}, steps of 1 ms, all truth noted", f"{one['noted']:6.2f} us = {1e3 / one['noted']:5.0f} x real time"),
            ("  no truth noted", f"{one['plain']:6.2f} us = {1e3 / one['plain']:5.0f} x real time"),
            ("  the same in C (full twin: like work)", f"{one['twin']:6.2f} us; kernel / C {one['plain'] / one['twin']:.2f}"),
        )
    one = found["rough jump"]
    say(
        ("one case, 4 s over a rough jump, no truth noted", f"{one['plain']:6.2f} us"),
        ("  the same in C (full twin: like work)", f"{one['twin']:6.2f} us; kernel / C {one['plain'] / one['twin']:.2f}"),
        ("  its core in C (no slips, turning wheels, driver, heat)", f"{one['core']:6.2f} us; kernel / C {one['plain'] / one['core']:.2f}"),
    )


def test_cost_over_cases_and_time() -> None:
    found = probe("cost", source=PLANT)
    for unit, costs in (("cases", found["cases"]), ("s", found["seconds"])):
        say(*((f"a step of a case, truth noted: {count} {unit}", f"{cost:6.2f} us") for count, cost in costs.items()))
        counts, totals = np.array([float(count) for count in costs]), np.array([float(count) * cost for count, cost in costs.items()])
        power = np.polyfit(np.log(counts), np.log(totals), 1)[0]
        say((f"  whole cost grows with {unit} to the power", f"{power:6.3f}"))


def test_the_same_through_a_control_library() -> None:
    found = probe("control_library", source=PLANT)
    apart = ", ".join(f"{name} {distance:.0e}" for name, distance in found["apart"].items())
    say(
        (f"python-control's nonlinear simulation, {found['driven']} s", f"{found['seconds']:6.1f} s"),
        ("  the kernel on the same course", f"{1e3 * found['kernel']:6.2f} ms; {found['seconds'] / found['kernel']:.0f} times faster"),
        ("  at most apart (m, rad, m/s)", apart),
    )
    assert max(found["apart"].values()) < 1e-3  # measures 3.7e-4 m/s of 11: Runge-Kutta at 1 ms over the kinks of a steep kicker


def test_compiling_the_plant(tmp_path: Path) -> None:
    found = probe("compiling", source=PLANT, DUALDUTY_CACHE=str(tmp_path))
    say(("compiling the plant's kernel", f"{found['plant.tick.advance']:6.1f} s"))

"""A working folder of one's own, and the command line in this process or in one of its own."""

from __future__ import annotations

import importlib
import os
import re
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from dualduty.command_line import main
from dualduty.discovery import discover
from dualduty.shipped import shipped_calibrations

SHORT = {"berm_corner": 2.5, "iso_road": 0.6}  # s; the berm begins after 1 s
LOG_LINES = 1500  # six seconds of the demo log: a landing is in it


class Said(NamedTuple):
    """What a command left: exit code, and what it printed."""

    code: int
    out: str
    err: str

    @property
    def lines(self) -> list[str]:
        """Lines on stderr."""
        return self.err.splitlines()


Command = Callable[..., Said]


@pytest.fixture(scope="session", autouse=True)
def _compiled() -> None:
    """Load what commands load, so that none of them is the one that compiles and says so."""
    for name in ("trial_run", "check_run", "replay_run"):
        importlib.import_module(f"dualduty.command_line.{name}")
    discover()


@pytest.fixture
def work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the shipped demo with one short log and two short sections, made the folder one stands in."""
    folder = tmp_path / "marram"
    shutil.copytree(shipped_calibrations(), folder, ignore=shutil.ignore_patterns("__pycache__", "quarry_loop_patrol*"))
    log = folder / "logs" / "quarry_loop_dash.csv"
    log.write_text("".join(log.read_text(encoding="utf-8").splitlines(keepends=True)[:LOG_LINES]), encoding="utf-8")
    marks = folder / "logs" / "quarry_loop_dash.marks.csv"
    kept = [line for line in marks.read_text(encoding="utf-8").splitlines(keepends=True) if not line.startswith(("cornering", "braking"))]
    marks.write_text("".join(kept), encoding="utf-8")
    for name, seconds in SHORT.items():
        section = folder / "sections" / f"{name}.toml"
        text, changes = re.subn(r"(?m)^duration_s = .*$", f"duration_s = {seconds}", section.read_text(encoding="utf-8"))
        assert changes == 1
        section.write_text(text, encoding="utf-8")
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture(name="run")
def run_here(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """`run("try", "berm_support")`: the command line in this process, logs and pictures too."""
    monkeypatch.setattr(os, "cpu_count", lambda: 1)

    def run(*arguments: str) -> Said:
        capsys.readouterr()
        monkeypatch.setattr(sys, "argv", ["dualduty", *arguments])
        with pytest.raises(SystemExit) as ended:
            main()
        captured = capsys.readouterr()
        code = ended.value.code
        return Said(code if isinstance(code, int) else -1, captured.out, captured.err)

    return run

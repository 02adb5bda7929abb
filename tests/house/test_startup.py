"""The start-up check names a foreign package in front of ours, a missing package and an old Python in one line each."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from dualduty import startup

ROOT = Path(__file__).resolve().parents[2]


def check_from(folder: Path) -> str:
    """What the check says when Python is started in `folder`, as with `python -m dualduty`."""
    program = "import sys; sys.path[:0] = sys.argv[1:]; from dualduty import startup; print('\\n'.join(startup.problems()))"
    ran = subprocess.run([sys.executable, "-c", program, str(folder), str(ROOT)], capture_output=True, text=True, check=True)
    return ran.stdout.strip()


def test_all_is_well_here() -> None:
    assert startup.problems() == []


@pytest.mark.parametrize("name", ["plant.py", "replay/__init__.py", "strategies/__init__.py"])
def test_foreign_package_in_front_is_named(tmp_path: Path, name: str) -> None:
    foreign = tmp_path / name
    foreign.parent.mkdir(exist_ok=True)
    foreign.touch()
    said = check_from(tmp_path)
    package = name.split("/", maxsplit=1)[0].removesuffix(".py")
    assert said.count("\n") == 0
    assert str(tmp_path / name.split("/", maxsplit=1)[0]) in said  # the path found
    assert f"expected {ROOT / package}" in said
    assert "rename it" in said


def test_a_mere_folder_of_that_name_does_no_harm(tmp_path: Path) -> None:
    (tmp_path / "replay").mkdir()
    assert check_from(tmp_path) == ""


def test_bare_module_in_memory_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    module = type(sys)("plant")
    module.__file__ = "scratch/plant.py"
    monkeypatch.setitem(sys.modules, "plant", module)
    assert len(startup.problems()) == 1
    assert "plant.py" in startup.problems()[0]


def test_missing_packages_are_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(startup, "NEEDED", ("numpy", "no_such_thing", "nor_this"))
    (line,) = startup.problems()
    assert "no_such_thing, nor_this" in line
    assert "-m pip install no_such_thing nor_this" in line


def test_old_python_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 9, 18, "final", 0))
    (line,) = startup.problems()
    assert "3.11 or newer is needed; this is 3.9" in line


def test_broken_installation_is_told_without_a_traceback(tmp_path: Path) -> None:
    (tmp_path / "plant.py").touch()
    ran = subprocess.run(
        [sys.executable, "-m", "dualduty", "--help"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode != 0
    assert ran.stderr.startswith("dualduty: ")
    assert "Traceback" not in ran.stderr


def test_costs_next_to_nothing() -> None:
    begin = time.perf_counter()
    startup.problems()
    # 1.6 to 2.0 ms on the machine it was written on; ten times that, for a loaded one
    assert time.perf_counter() - begin < 0.02


def test_import_of_dualduty_is_light() -> None:
    heavy = {"numpy", "numba", "pandas", "rich"}
    program = f"import sys; import dualduty, dualduty.startup, dualduty.__main__; print(sorted({heavy} & set(sys.modules)))"
    ran = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"

"""The wheel holds the four packages and the calibrations, and works from an empty folder without the clone."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest
from hatchling.builders.wheel import WheelBuilder

ROOT = Path(__file__).resolve().parents[2]


def build(folder: Path, version: str = "standard") -> zipfile.ZipFile:
    """Build into `folder`; hatchling is called directly, since an isolated build would fetch it anew."""
    return zipfile.ZipFile(next(iter(WheelBuilder(str(ROOT)).build(directory=str(folder), versions=[version]))))


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    return build(tmp_path_factory.mktemp("wheel"))


def test_top_level_names(wheel: zipfile.ZipFile) -> None:
    tops = {name.split("/")[0] for name in wheel.namelist()}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"dualduty", "strategies", "plant", "replay"}


def test_every_source_and_calibration_travels(wheel: zipfile.ZipFile) -> None:
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.splitlines()
    if not tracked:
        pytest.skip("not a git clone: nothing to compare the wheel with")
    expected = {name for name in tracked if name.split("/")[0] in {"dualduty", "strategies", "plant", "replay"}}
    expected |= {f"dualduty/_data/{name}" for name in tracked if name.startswith("calibrations/")}
    missing = sorted(name for name in expected - set(wheel.namelist()) if (ROOT / name.removeprefix("dualduty/_data/")).exists())
    assert missing == []


def test_licence_and_command(wheel: zipfile.ZipFile) -> None:
    names = wheel.namelist()
    assert any(name.endswith("licenses/LICENSE") for name in names)
    command = next(name for name in names if name.endswith("entry_points.txt"))
    assert "dualduty = dualduty.__main__:main" in wheel.read(command).decode()


def test_editable_install_copies_nothing(tmp_path: Path) -> None:
    names = [name for name in build(tmp_path, "editable").namelist() if ".dist-info/" not in name]
    assert [Path(name).suffix for name in names] == [".pth"]


def test_installed_wheel_works_from_an_empty_folder(wheel: zipfile.ZipFile, tmp_path: Path) -> None:
    target, elsewhere = tmp_path / "installed", tmp_path / "empty"
    elsewhere.mkdir()
    offline = ["-q", "--no-deps", "--no-index", "--disable-pip-version-check"]
    install = [sys.executable, "-m", "pip", "install", *offline, "--target", str(target)]
    subprocess.run([*install, str(wheel.filename)], check=True, capture_output=True, timeout=120)
    program = (
        "import sys; sys.path.insert(0, sys.argv[1]); import dualduty, strategies, plant, replay; "
        "from dualduty import shipped, startup; print(startup.problems()); print(dualduty.__file__); print(shipped.shipped_calibrations())"
    )
    ran = subprocess.run([sys.executable, "-I", "-c", program, str(target)], cwd=elsewhere, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    problems, file, data = ran.stdout.splitlines()
    assert problems == "[]"
    assert Path(file) == target / "dualduty" / "__init__.py"
    assert Path(data) == target / "dualduty" / "_data" / "calibrations"
    assert {"vehicles", "strategies", "sections"} & {path.name for path in Path(data).iterdir()}


def test_start_up_check_knows_every_dependency() -> None:
    from dualduty import startup

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert [line.split(">")[0] for line in project["dependencies"]] == list(startup.NEEDED)
    assert project["requires-python"] == ">=" + ".".join(map(str, startup.PYTHON))
    assert all(importlib.util.find_spec(name) for name in startup.NEEDED)  # the distribution's name is also the module's


def test_constraints_are_plain_pins_of_every_requirement() -> None:
    from packaging.requirements import Requirement
    from packaging.utils import canonicalize_name

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = [*project["dependencies"], *(line for lines in project["optional-dependencies"].values() for line in lines)]
    pins = [Requirement(line) for line in (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()]
    assert all([spec.operator for spec in pin.specifier] == ["=="] and pin.url is None for pin in pins)
    pinned = {canonicalize_name(pin.name) for pin in pins}
    assert {canonicalize_name(Requirement(line).name) for line in wanted} - pinned <= {"dualduty"}

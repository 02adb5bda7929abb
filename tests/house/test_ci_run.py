"""`.ci/run` runs the test command that the README shows, then the other checks, and fails when one of them fails."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="a bash script; the Makefile lists the same checks as plain commands")

# Stands in for the environment's Python: notes what it was asked to run, fails where it is told to.
PYTHON = """#!/bin/sh
echo "$*" >> asked
case "$2" in
    pytest) echo "=== 3 passed in 0.10s ===" ;;
    {failing}) exit 1 ;;
esac
"""


def run(folder: Path, readme: str | None, failing: str = "nothing") -> tuple[int, str, list[str]]:
    """Exit code, output, and what the stand-in was asked to run."""
    (folder / ".ci").mkdir()
    (folder / ".venv" / "bin").mkdir(parents=True)
    shutil.copy(ROOT / ".ci" / "run", folder / ".ci" / "run")
    python = folder / ".venv" / "bin" / "python"
    python.write_text(PYTHON.format(failing=failing), encoding="utf-8")
    python.chmod(0o755)
    if readme is not None:
        (folder / "README.md").write_bytes(readme.encode())
    command = [str(folder / ".ci" / "run")]
    ran = subprocess.run(command, cwd=folder.anchor, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    asked = folder / "asked"
    return ran.returncode, ran.stdout + ran.stderr, asked.read_text(encoding="utf-8").splitlines() if asked.exists() else []


README = (
    "# Bench\n\n```\nnot this\n```\n\n<!-- tests -->\n\n```sh\necho made &&\n  .venv/bin/python -m pytest -q\n```\n\n```\nnor this\n```\n"
)


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_runs_the_command_of_the_readme(tmp_path: Path, ends: str) -> None:
    code, said, asked = run(tmp_path, README.replace("\n", ends))
    assert asked == ["-m pytest -q", "-m ruff check", "-m ruff format --check", "-m mypy"]
    assert "=== 3 passed in 0.10s ===" in said.splitlines()[-2]
    assert "all checks passed" in said
    assert code == 0


@pytest.mark.parametrize(("failing", "named"), [("mypy", "types"), ("ruff", "lint format")])
def test_a_failing_check_fails_the_run(tmp_path: Path, failing: str, named: str) -> None:
    code, said, asked = run(tmp_path, README, failing)
    assert (code, len(asked)) == (1, 4)
    assert f"failed: {named}" in said


def test_failing_tests_fail_the_run(tmp_path: Path) -> None:
    code, said, _ = run(tmp_path, README.replace("-m pytest -q", "-m pytest -q && false"))
    assert code == 1
    assert "failed: tests" in said


@pytest.mark.parametrize("readme", ["<!-- tests -->\nno block\n", "<!-- tests -->\n```\nmake everything\n```\n"])
def test_a_marker_without_the_command_is_an_error(tmp_path: Path, readme: str) -> None:
    code, said, asked = run(tmp_path, readme)
    assert (code, asked) == (2, [])
    assert "no fenced block with the pytest command" in said

"""Collection refuses a validation that names no source."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def collect(folder: Path, text: str) -> subprocess.CompletedProcess[str]:
    """Collect one validation file under the suite's own settings."""
    (folder / "conftest.py").write_text((ROOT / "tests" / "conftest.py").read_text(encoding="utf-8"), encoding="utf-8")
    (folder / "test_spring_validation.py").write_text(text, encoding="utf-8")
    settings = ["-p", "no:cacheprovider", "-c", str(ROOT / "pyproject.toml")]
    command = [sys.executable, "-m", "pytest", "--collect-only", "-q", *settings, str(folder)]
    return subprocess.run(command, capture_output=True, text=True, cwd=folder, check=False)


def test_without_source_is_refused(tmp_path: Path) -> None:
    marks = ("", "@pytest.mark.validates()\n", '@pytest.mark.validates("  ")\n', "@pytest.mark.validates(3)\n")
    result = collect(tmp_path, "import pytest\n" + "".join(f"\n{mark}def test_rate_{n}(): pass\n" for n, mark in enumerate(marks)))
    assert result.returncode == pytest.ExitCode.USAGE_ERROR
    assert [f"test_rate_{n}" in result.stderr + result.stdout for n in range(len(marks))] == [True] * len(marks)


def test_with_source_is_collected(tmp_path: Path) -> None:
    result = collect(tmp_path, 'import pytest\n\n@pytest.mark.validates("Hooke 1678")\ndef test_rate(): pass\n')
    assert result.returncode == pytest.ExitCode.OK, result.stdout + result.stderr

"""Commands, snippets and shown output of README.md and DEVELOPERS.md: found, run, compared, and written anew on demand."""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import pytest

from dualduty.command_line import main

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"
DEVELOPERS = ROOT / "DEVELOPERS.md"
WRITES = bool(os.environ.get("DUALDUTY_WRITE_DOCS"))  # write what came into the documents, in place of comparing

_NOTE = re.compile(r"^<!-- (.*) -->$")
_NUMBER = re.compile("[+\N{MINUS SIGN}-]?\\d+(?:\\.\\d+)?")
# Rounding differs between processors, and contact makes it grow: shown numbers may move by 2 %, or by 1.5 of their last digit.
SHARE = 0.02
LAST_DIGITS = 1.5


@dataclass(frozen=True)
class Block:
    """A fenced block: its language, its text, the comment that stands before it, and its first line (from 0)."""

    language: str
    text: str
    note: str
    line: int

    def commands(self) -> list[list[str]]:
        """Its lines as argument lists."""
        return [shlex.split(line) for line in self.text.splitlines() if line.strip()]


@dataclass(frozen=True)
class Shown:
    """A block, and the output the document shows for it."""

    block: Block
    output: Block


def blocks(document: Path) -> list[Block]:
    """All fenced blocks, in order."""
    found: list[Block] = []
    note, start, language = "", -1, ""
    lines = document.read_text(encoding="utf-8").splitlines()
    for number, line in enumerate(lines):
        if line.startswith("```") and start < 0:
            start, language = number + 1, line[3:].strip()
        elif line.startswith("```"):
            found.append(Block(language, "\n".join(lines[start:number]), note, start))
            start, note = -1, ""
        elif start < 0 and (comment := _NOTE.match(line)):
            note = comment.group(1)
    return found


def shown(document: Path) -> list[Shown]:
    """Every block that is followed by its output, a block of `text`."""
    found = blocks(document)
    return [Shown(one, after) for one, after in pairwise(found) if after.language == "text" and one.language != "text"]


def noted(document: Path, note: str) -> Block:
    """The block below a comment."""
    return next(block for block in blocks(document) if block.note == note)


def section(document: Path, start: str, end: str) -> str:
    """What stands between two comments."""
    text = document.read_text(encoding="utf-8")
    return text.partition(f"<!-- {start} -->\n")[2].partition(f"<!-- {end} -->")[0].strip("\n")


def write(document: Path, outputs: Mapping[Block, str]) -> None:
    """Put new texts into blocks, from the last upward so that line numbers hold."""
    lines = document.read_text(encoding="utf-8").splitlines()
    for block in sorted(outputs, key=lambda one: -one.line):
        new = [_kept(line.rstrip(), block) for line in outputs[block].splitlines()]
        lines[block.line : block.line + len(block.text.splitlines())] = new
    document.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _kept(line: str, block: Block) -> str:
    """The line, but times as the document has them: they say how busy a machine was."""
    return next((old for old in block.text.splitlines() if line.startswith("compute ") and old.startswith("compute ")), line)


def told_apart(expected: str, came: str) -> str:
    """Where two outputs differ beyond numbers that may move, as one line; empty when they don't."""
    wanted, got = _plain(expected), _plain(came)
    for number, (one, other) in enumerate(zip(wanted, got, strict=False), start=1):
        if not _alike(one, other):
            return f"line {number}: the document shows {one!r}, came {other!r}"
    return "" if len(wanted) == len(got) else f"the document shows {len(wanted)} lines, came {len(got)}"


def _plain(text: str) -> list[str]:
    """Lines without widths of columns, and without what depends on the machine."""
    lines = [" ".join(line.split()).replace("\\", "/") for line in text.splitlines()]
    lines = [re.sub(r"^compute .*", "compute", line) for line in lines]
    return [re.sub(r"(\d+ (?:passed|deselected)).*", r"\1", line) for line in lines if line]


def _alike(one: str, other: str) -> bool:
    if _NUMBER.sub("#", one) != _NUMBER.sub("#", other):
        return False
    pairs = zip(_NUMBER.findall(one), _NUMBER.findall(other), strict=True)
    return all(a == b or ("." in a + b and _close(a, b)) or ("%" in one and _close(a, b)) for a, b in pairs)


def _close(one: str, other: str) -> bool:
    first, second = (float(text.replace("\N{MINUS SIGN}", "-")) for text in (one, other))
    digit = 10.0 ** -max(len(text.partition(".")[2]) for text in (one, other))
    return abs(first - second) <= max(SHARE * abs(first), LAST_DIGITS * digit)


@contextlib.contextmanager
def inside(folder: Path) -> Iterator[None]:
    """Work in another folder for a while."""
    before = Path.cwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)


def dualduty(arguments: list[str]) -> tuple[int, str]:
    """Run the command line in this process; exit code, and what it printed, problems included."""
    said, told = io.StringIO(), io.StringIO()
    before = sys.argv
    sys.argv = ["dualduty", *arguments]
    try:
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(told), pytest.raises(SystemExit) as ended:
            main()
    finally:
        sys.argv = before
    code = ended.value.code
    return int(code or 0), said.getvalue() if not code else said.getvalue() + told.getvalue()


@dataclass
class House:
    """A copy of the house in which DEVELOPERS.md's reader works: files are added, commands run in a process of their own."""

    folder: Path
    environment: dict[str, str] = field(
        default_factory=lambda: {name: value for name, value in os.environ.items() if name != "PYTEST_ADDOPTS"} | {"PYTHONUTF8": "1"}
    )

    @classmethod
    def copy(cls, folder: Path) -> House:
        """Copy what is needed to work."""
        for name in ("dualduty", "strategies", "plant", "replay", "calibrations", "tests"):
            shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        shutil.copy(ROOT / "pyproject.toml", folder / "pyproject.toml")
        return cls(folder)

    def run(self, command: list[str]) -> str:
        """Output of one command; the test fails with what it said when the command does."""
        if command[0] == "cp":
            shutil.copy(self.folder / command[1], self.folder / command[2])
            return ""
        program = {".venv/bin/python": [], ".venv/bin/dualduty": ["-m", "dualduty"]}[command[0]]
        return self.python([*program, *command[1:]])

    def python(self, arguments: list[str]) -> str:
        """Output of Python in this house."""
        asked = [sys.executable, *arguments]
        ran = subprocess.run(asked, cwd=self.folder, env=self.environment, capture_output=True, text=True, encoding="utf-8", check=False)
        assert ran.returncode == 0, ran.stdout + ran.stderr
        return ran.stdout

    def write(self, block: Block) -> None:
        """Save a block as the file its comment names."""
        path = self.folder / block.note.removeprefix("file: ")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(block.text + "\n", encoding="utf-8")

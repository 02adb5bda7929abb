"""DEVELOPERS.md: the law it shows works as it says, what is WRONG fails as it says, and its tables are complete."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from dualduty import blocks as block_library
from dualduty.calibration.read import ACTS
from dualduty.cells import ROWS
from dualduty.checks import CheckFailed, check_plug_in
from dualduty.discovery import discover
from dualduty.errors import BadInput
from tests.docs import documents as docs
from tests.docs import nomenclature
from tests.docs.documents import DEVELOPERS, House, Shown

TEXT = DEVELOPERS.read_text(encoding="utf-8")
SHOWN = docs.shown(DEVELOPERS)
CONTRAST = [one for one in SHOWN if "# WRONG\n" in one.block.text]
COMMANDS = [
    pytest.param(one, marks=pytest.mark.slow if one.block.note == "slow" else (), id=one.block.text[:70])
    for one in SHOWN
    if one.block.language == "sh" and "demo_logs" not in one.block.text
]
OUTSIDE = [one for one in SHOWN if one.block.note == "run"]

OTHER_LAW = '''"""Brake floor."""

from dataclasses import dataclass

import numpy as np

from dualduty.contract import Chunk, Duty, Memory
from dualduty.parameters import param


@dataclass(frozen=True)
class BrakeFloor:
    """Compression grows with the pedal."""

    gain: float = param(0.5, "1", 0.0, 1.0, "duty at full pedal", said="pct")

    def run(self, now: Chunk, memory: Memory) -> Duty:
        """Compression duty."""
        return Duty(compression=np.clip(now.brake, 0.0, 1.0) * self.gain)
'''

EXAMPLE = '''"""An example."""

from dataclasses import dataclass

import numpy as np

from dualduty.blocks import delay, derivative, low_pass, peak_hold
from dualduty.contract import Chunk, Duty, Memory
from dualduty.parameters import param


class RoughHold:
    """Somewhere to hide something."""


@dataclass(frozen=True)
class Example:
    """An example."""

    gain: float = param(0.5, "1", 0.0, 1.0, "gain")

    def run(self, now: Chunk, memory: Memory) -> Duty:
        """Compression duty."""
{body}
        return Duty(compression=duty)
'''


def failing(body: str, folder: Path) -> str:
    """What the checks say about a law whose `run` is `body`; empty when it passes."""
    path = folder / "example.py"
    path.write_text(EXAMPLE.format(body="\n".join(f"        {line}" for line in body.splitlines())), encoding="utf-8")
    try:
        plug_ins = discover((path,))
        check_plug_in(plug_ins.by_name["Example"], plug_ins, None)
    except (BadInput, CheckFailed) as problem:
        return str(problem).removeprefix(f"{path}: Example: ")
    return ""


@pytest.mark.parametrize("one", CONTRAST, ids=lambda one: one.block.text.splitlines()[1][:40])
def test_what_is_right_passes_and_what_is_wrong_fails_as_shown(one: Shown, tmp_path: Path) -> None:
    right, wrong = one.block.text.removeprefix("# right\n").split("# WRONG\n")
    assert failing(right, tmp_path) == ""
    said = failing(wrong, tmp_path)
    assert said
    if docs.WRITES:
        RENEWED[one.output] = said
        pytest.skip("written")
    assert docs.told_apart(one.output.text, said) == ""


RENEWED: dict[docs.Block, str] = {}


@pytest.fixture(scope="module", autouse=True)
def written() -> Iterator[None]:
    """Write the document anew when all tests are done, where that is asked for."""
    yield
    if docs.WRITES:
        docs.write(DEVELOPERS, RENEWED)
        old, new = docs.section(DEVELOPERS, "nomenclature", "end of nomenclature"), nomenclature.table()
        text = DEVELOPERS.read_text(encoding="utf-8")
        head = "<!-- nomenclature -->\n\n"
        text = text.replace(f"{head}{old}\n" if old else head, f"{head}{new}\n" + ("" if old else "\n"), 1)
        DEVELOPERS.write_text(text, encoding="utf-8")


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> House:
    """A copy of the house with the files that DEVELOPERS.md adds."""
    made = House.copy(tmp_path_factory.mktemp("house"))
    for block in docs.blocks(DEVELOPERS):
        if block.language == "sh" and block.text.startswith("cp "):
            made.run(block.commands()[0])
        elif block.note.startswith("file: "):
            made.write(block)
    return made


@pytest.mark.parametrize("one", COMMANDS)
def test_a_command_prints_what_is_shown(one: Shown, house: House) -> None:
    came = "".join(house.run(command) for command in one.block.commands())
    if docs.WRITES:
        RENEWED[one.output] = came
        pytest.skip("written")
    assert docs.told_apart(one.output.text, came) == ""


@pytest.mark.parametrize("one", OUTSIDE, ids=["outside"])
def test_a_law_that_lives_elsewhere_is_checked_as_shown(one: Shown, house: House) -> None:
    (house.folder / "my_laws").mkdir()
    (house.folder / "my_laws" / "brake_floor.py").write_text(OTHER_LAW, encoding="utf-8")
    came = house.python(["-c", one.block.text])
    if docs.WRITES:
        RENEWED[one.output] = came
        pytest.skip("written")
    assert docs.told_apart(one.output.text, came) == ""


@pytest.mark.slow
def test_demo_logs_are_made_as_shown_and_look_like_the_committed_ones(house: House) -> None:
    one = next(one for one in SHOWN if "demo_logs" in one.block.text)
    came = house.run(one.block.commands()[0])
    committed = docs.ROOT / "calibrations" / "logs"
    made = house.folder / "made_logs"
    assert {path.name: _outline(path) for path in made.iterdir()} == {path.name: _outline(path) for path in committed.iterdir()}
    if docs.WRITES:
        RENEWED[one.output] = came
        pytest.skip("written")
    assert docs.told_apart(one.output.text, came) == ""


def _outline(path: Path) -> list[str]:
    """What a rebuild keeps on any machine: all of a run file, the states of the marks, the columns and the length of a log."""
    lines = path.read_text(encoding="utf-8").splitlines()
    if path.suffix == ".toml":
        return lines
    if path.name.endswith(".marks.csv"):
        return [line.partition(",")[0] for line in lines]
    return [lines[1], str(len(lines))]


def test_every_snippet_is_run() -> None:
    run = {one.block for one in SHOWN} | {block for block in docs.blocks(DEVELOPERS) if block.note.startswith("file: ")}
    left = [block for block in docs.blocks(DEVELOPERS) if block not in run and block.language != "text"]
    assert [block.text for block in left if not block.text.startswith("cp ") and not block.note.startswith("not run")] == []
    assert len(CONTRAST) > 8


def test_adding_a_law_is_the_first_screen() -> None:
    assert TEXT.split("\n\n")[1] == "## Add a law"


def test_the_nomenclature_is_complete_and_current() -> None:
    assert docs.section(DEVELOPERS, "nomenclature", "end of nomenclature") == nomenclature.table()


def test_every_block_has_its_row() -> None:
    blocks = TEXT.split("## Blocks")[1].split("\n## ")[0]
    rows = set(re.findall(r"^\| `(\w+)\(", blocks, re.MULTILINE))
    assert rows == set(block_library.__all__) - {"machine"}


def test_every_cell_has_its_place() -> None:
    form = TEXT.split("## The form of a tick")[1].split("\n## ")[0]
    assert set(re.findall(r"`(\w+)\(m, ", form)) == {cell.__name__ for cell in ROWS if cell.__module__ == "dualduty.cells"}


def test_every_act_has_its_row() -> None:
    assert [act for act in ACTS if f"| `{act}` |" not in TEXT] == []


def test_every_make_target_is_one() -> None:
    makefile = (docs.ROOT / "Makefile").read_text(encoding="utf-8")
    named = set(re.findall(r"`make (\w+)`", TEXT))
    assert named
    assert {target for target in named if f"\n{target}:" not in makefile} == set()

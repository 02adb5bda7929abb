"""docs/attribution.md: every command and snippet in it prints what it says, and its picture is the one that is drawn."""

from __future__ import annotations

import contextlib
import io
import shutil
from pathlib import Path

import pytest

from dualduty.trial.folder import make_work_folder
from tests.docs import documents as docs
from tests.docs.documents import ROOT, Shown

DOCUMENT = ROOT / "docs" / "attribution.md"
PICTURE = ROOT / "docs" / "why_kicker_on_throttle.png"
DRAWN = Path("results", "why_free_speed_kicker_on_throttle_dash", "rear_left.png")
SHOWN = docs.shown(DOCUMENT)
LARGEST_PICTURE = 350_000  # bytes


@pytest.fixture(scope="module")
def outputs(tmp_path_factory: pytest.TempPathFactory) -> dict[docs.Block, str]:
    """What every command and snippet printed, in order, in a working folder of its own."""
    came: dict[docs.Block, str] = {}
    folder = make_work_folder(tmp_path_factory.mktemp("attribution") / "pit").root
    with docs.inside(folder):
        for block in docs.blocks(DOCUMENT):
            if block.note.startswith("file: "):
                Path(block.note.removeprefix("file: ")).write_text(block.text + "\n", encoding="utf-8")
            elif block.language == "sh":
                came[block] = "".join(_dualduty(command) for command in block.commands())
            elif block.language == "python":
                came[block] = _python(block.text)
        if docs.WRITES:
            docs.write(DOCUMENT, {one.output: came[one.block] for one in SHOWN})
            shutil.copy(DRAWN, PICTURE)
    return came


def _dualduty(command: list[str]) -> str:
    assert command[0] == "dualduty"
    code, said = docs.dualduty(command[1:])
    assert code == 0, said
    return said


def _python(text: str) -> str:
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        exec(compile(text, str(DOCUMENT), "exec"), {})  # noqa: S102 - our own document
    return said.getvalue()


@pytest.mark.parametrize("one", SHOWN, ids=lambda one: one.block.text.splitlines()[-1][:50])
def test_what_is_shown_is_what_comes(one: Shown, outputs: dict[docs.Block, str]) -> None:
    if docs.WRITES:
        pytest.skip("written")
    assert docs.told_apart(one.output.text, outputs[one.block]) == ""


def test_the_picture_is_there_and_small() -> None:
    assert f"({PICTURE.name})" in DOCUMENT.read_text(encoding="utf-8")
    assert 10_000 < PICTURE.stat().st_size < LARGEST_PICTURE

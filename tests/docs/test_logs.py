"""docs/logs.md: every command in it prints what it says, in a working folder of the reader's own."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from dualduty.trial.folder import make_work_folder
from replay.channels.channel_map_file import read_channel_map
from tests.docs import documents as docs
from tests.docs.documents import ROOT, Shown

pytestmark = pytest.mark.slow
DOCUMENT = ROOT / "docs" / "logs.md"
SHOWN = docs.shown(DOCUMENT)
EXIT = "exit code "
HEAD = "head "  # only the first lines are shown


@pytest.fixture(scope="module")
def outputs(tmp_path_factory: pytest.TempPathFactory) -> dict[docs.Block, str]:
    """What every command printed, in order, in a working folder of its own."""
    came: dict[docs.Block, str] = {}
    with docs.inside(make_work_folder(tmp_path_factory.mktemp("logs") / "pit").root):
        for block in docs.blocks(DOCUMENT):
            if block.note.startswith("file: "):
                Path(block.note.removeprefix("file: ")).write_text(block.text + "\n", encoding="utf-8")
            elif block.language == "sh":
                came[block] = "".join(_dualduty(command, block.note) for command in block.commands())
    if docs.WRITES:
        docs.write(DOCUMENT, {one.output: came[one.block] for one in SHOWN})
    return came


def _dualduty(command: list[str], note: str) -> str:
    assert command[0] == "dualduty"
    code, said = docs.dualduty(command[1:])
    assert code == (int(note.removeprefix(EXIT)) if note.startswith(EXIT) else 0), said
    lines = int(note.removeprefix(HEAD)) if note.startswith(HEAD) else None
    return "\n".join([*said.splitlines()[:lines], *([] if lines is None else ["..."])]) + "\n"


@pytest.mark.parametrize("one", SHOWN, ids=lambda one: one.block.text.splitlines()[0][:50])
def test_what_is_shown_is_what_comes(one: Shown, outputs: dict[docs.Block, str]) -> None:
    if docs.WRITES:
        pytest.skip("written")
    assert docs.told_apart(one.output.text, outputs[one.block]) == ""


def test_the_keys_shown_for_a_channel_map_are_read(tmp_path: Path) -> None:
    text = next(block.text for block in docs.blocks(DOCUMENT) if block.text.startswith("[signals.shaft_travel]"))
    assert tomllib.loads(text)
    axes = "".join(f'[signals.specific_force_{axis}]\ncolumn = "{axis}"\nunit = "g"\n' for axis in "xyz")
    rates = "".join(f'[signals.{about}_rate]\ncolumn = "{about}"\nunit = "deg/s"\n' for about in ("roll", "pitch", "yaw"))
    path = tmp_path / "map.toml"
    path.write_text('[time]\ncolumn = "t"\nunit = "s"\n[mode]\nconstant = "dash"\n' + axes + rates + text, encoding="utf-8")
    channel_map = read_channel_map(path)
    assert channel_map.mounting is not None
    assert next(one for one in channel_map.channels if one.name == "shaft_travel").latency == 0.004

"""Which sections a command takes: everyday ones, named ones, all of them."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from dualduty.errors import BadInput
from dualduty.trial.folder import WorkFolder

Command = Callable[..., tuple[int, str, str]]
EVERYDAY = {"corrugation", "whoops", "kicker_jump", "berm_corner", "rough_corner", "braking_rough", "iso_road"}


def keep(work: Path, *names: str) -> None:
    """Leave only these sections in the folder, and no gates that name others."""
    for path in (work / "sections").glob("*.toml"):
        if path.stem not in names:
            path.unlink()
    (work / "gates.toml").unlink()


def test_everyday_sections_are_the_marked_ones_or_all_where_none_is(work: Path) -> None:
    folder = WorkFolder(work)
    assert {path.stem for path in folder.everyday_sections()} == EVERYDAY
    assert len(folder.section_files(())) > len(EVERYDAY)
    keep(work, "dip", "crest")
    assert {path.stem for path in folder.everyday_sections()} == {"dip", "crest"}


def test_try_drives_everyday_sections_and_says_what_it_left_out(work: Path, run: Command) -> None:
    keep(work, "iso_road", "ledge_up")
    choice = ("try", "berm_support", "--mode", "dash", "--no-logs", "--quiet")
    code, out, err = run(*choice)
    assert code == 0, err
    assert "driven   1 section; 1 more with --all-sections or --section NAME" in out
    code, out, _ = run(*choice, "--all-sections")
    assert code == 0
    assert "more with --all-sections" not in out
    text = json.dumps((work / "results" / "berm_support" / "report.html").read_text(encoding="utf-8"))
    assert "ledge" in text


def test_named_and_all_sections_contradict(work: Path, run: Command) -> None:
    code, _, err = run("try", "berm_support", "--section", "dip", "--all-sections")
    assert (code, err) == (2, "dualduty: --all-sections: can't go with --section; expected one of them\n")
    assert not (work / "results").exists()


def test_list_says_which_sections_are_everyday(work: Path, run: Command) -> None:
    keep(work, "iso_road", "dip")
    _, out, _ = run("list", "sections")
    head, *rows = (line.split() for line in out.splitlines())
    assert head == ["section", "lasts", "everyday", "intent"]
    assert [row[:4] for row in rows if row[0] in ("dip", "iso_road")] == [["dip", "4.5", "s", "A"], ["iso_road", "0.6", "s", "yes"]]


def test_picture_takes_a_name_or_a_path_or_all(work: Path, run: Command) -> None:
    keep(work, "iso_road", "dip")
    for arguments in (("dip",), ("sections/dip.toml",), ("--all",), ("dip", "--folder", str(work), "--out", "there.png")):
        assert run("picture", *arguments)[0] == 0
    assert {path.name for path in work.glob("*.png")} == {"dip.png", "sections.png", "there.png"}


@pytest.mark.usefixtures("work")
@pytest.mark.parametrize(
    ("arguments", "said"),
    [(("dib",), "section dib: is not in sections; did you mean 'dip'?"), ((), "picture: expected either SECTION or --all, came neither"),
     (("dip", "--all"), "picture: expected either SECTION or --all, came both")],
)  # fmt: skip
def test_picture_refuses_in_one_line(run: Command, arguments: tuple[str, ...], said: str) -> None:
    code, _, err = run("picture", *arguments)
    assert (code, err) == (2, f"dualduty: {said}\n")


def test_a_new_folder_has_every_section_and_the_profile(tmp_path: Path, run: Command) -> None:
    assert run("new-folder", str(tmp_path / "mine"))[0] == 0
    folder = WorkFolder(tmp_path / "mine")
    assert len(folder.section_files(())) >= 20
    assert (folder.sections / "measured_track.csv").is_file()
    with pytest.raises(BadInput, match="is not in"):
        folder.section("none_such")

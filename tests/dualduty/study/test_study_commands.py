"""Both studies as a user meets them: two short sections, files written, bad input in a line."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from dualduty.command_line import cli
from dualduty.errors import BadInput
from dualduty.shipped import shipped_calibrations

SHORT = {"kicker_jump": 2.6, "iso_road": 1.5}  # s


@pytest.fixture
def work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the demo with two short sections, made the folder one stands in."""
    folder = tmp_path / "marram"
    shutil.copytree(shipped_calibrations(), folder, ignore=shutil.ignore_patterns("__pycache__", "logs"))
    for name, seconds in SHORT.items():
        path = folder / "sections" / f"{name}.toml"
        path.write_text(re.sub(r"(?m)^duration_s = .*$", f"duration_s = {seconds}", path.read_text(encoding="utf-8")), encoding="utf-8")
    monkeypatch.chdir(folder)
    return folder


def told(*arguments: str) -> str:
    sections = [part for name in SHORT for part in ("--section", name)]
    result = CliRunner().invoke(cli, [*arguments, *sections, "--seeds", "1"], catch_exceptions=False)
    assert result.exit_code == 0
    return result.output


def test_detector_study(work: Path) -> None:
    said = told("detector-study", "--no-ladder", "--mode", "dash", "--payload", "none")
    assert "landing duty reached before touchdown in" in said
    document = work / "results" / "detector_study" / "detectors.md"
    assert (document.parent / "airborne_trade_off.png").stat().st_size > 10_000
    assert "| airborne, 200 to 500 ms | 1 | 1 |" in document.read_text(encoding="utf-8")


def test_constant_study(work: Path) -> None:
    said = told("constant-study", "--mode", "dash", "--steps", "2", "--valves", "as-built")
    assert "best single constant setting" in said
    document = (work / "results" / "constant_study" / "constants.md").read_text(encoding="utf-8")
    assert "| kicker jump | landing | dash |" in document
    assert (work / "results" / "constant_study" / "constants.png").stat().st_size > 10_000


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("detector-study", "--section", "iso_raod"), "did you mean 'iso_road'"),
        (("detector-study", "--payload", "two_in_the_bag"), "two_in_the_back"),
        (("detector-study", "--mode", "sprint"), "expected one of patrol, dash, haul"),
        (("constant-study", "--objectives", "objective.toml"), "did you mean 'objectives.toml'"),
        (("constant-study", "--valves", "valves_slo"), "did you mean 'valves_slow'"),
        (("constant-study", "--section", "quarry"), "no objective for section 'quarry'"),
    ],
)
@pytest.mark.usefixtures("work")
def test_bad_input_is_a_line(arguments: tuple[str, ...], said: str) -> None:
    with pytest.raises(BadInput, match=re.escape(said)) as raised:
        CliRunner().invoke(cli, list(arguments), catch_exceptions=False)
    assert "\n" not in str(raised.value)


@pytest.mark.parametrize(("name", "document"), [("constant-study", "constants.md"), ("detector-study", "detectors.md")])
def test_a_document_without_markers_stays_as_it_is_and_nothing_is_driven(work: Path, name: str, document: str) -> None:
    path = work / "results" / name.replace("-", "_") / document
    path.parent.mkdir(parents=True)
    path.write_text("# Mine\n", encoding="utf-8")
    with pytest.raises(BadInput, match="expected a stretch"):
        told(name)
    assert path.read_text(encoding="utf-8") == "# Mine\n"

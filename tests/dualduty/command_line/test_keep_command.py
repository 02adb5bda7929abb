"""`keep` as a user meets it: the verdict first, an exit code, files where they are asked for, one line for what can't be used."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

Command = Callable[..., tuple[int, str, str]]
LOG = "quarry_loop_dash"


def log_lines(work: Path) -> list[str]:
    return (work / "logs" / f"{LOG}.csv").read_text(encoding="utf-8").splitlines(keepends=True)


def write_log(work: Path, lines: list[str]) -> None:
    (work / "logs" / f"{LOG}.csv").write_text("".join(lines), encoding="utf-8")


def test_the_verdict_comes_first_and_the_log_is_left_alone(run: Command, work: Path) -> None:
    log = work / "logs" / f"{LOG}.csv"
    before = (log.read_bytes(), log.stat().st_mtime_ns, sorted(work.rglob("*")))
    code, out, err = run("keep", LOG, "--quiet")
    assert (code, err) == (0, "")
    assert out.splitlines()[0] == "usable"
    assert out.splitlines()[1].startswith("marker button: ")
    assert "nothing in the log was changed" in out
    assert (log.read_bytes(), log.stat().st_mtime_ns, sorted(work.rglob("*"))) == before


def test_strips_and_findings_are_written_where_asked(run: Command, work: Path) -> None:
    code, out, _ = run("keep", LOG, "--out", "results/kept", "--quiet")
    assert code == 0
    assert "health.png and findings.json in results/kept" in out
    assert (work / "results" / "kept" / "health.png").read_bytes().startswith(b"\x89PNG")
    document = json.loads((work / "results" / "kept" / "findings.json").read_text(encoding="utf-8"))
    assert document["verdict"] == "usable"
    assert document["sections_told_by"].startswith("sections by the detectors of")


def test_a_log_that_the_strategy_can_not_be_replayed_on_is_not_simply_usable(run: Command, work: Path) -> None:
    lines = log_lines(work)
    write_log(work, [lines[0], lines[1].replace("travel_", "pot_"), *lines[2:]])
    code, out, _ = run("keep", LOG, "--quiet")
    first = out.splitlines()[0]
    assert code == 0
    assert first.startswith("usable, but not for marram baseline: the strategy needs shaft_travel front_left: looked for 'travel_fl_mm'")
    assert first.endswith("and 3 more")


def test_a_run_to_be_driven_again_has_exit_code_1(run: Command, work: Path) -> None:
    lines = log_lines(work)
    at = lines[1].split(",").index("travel_fl_mm")
    write_log(work, lines[:2] + [",".join([*line.split(",")[:at], "", *line.split(",")[at + 1 :]]) for line in lines[2:]])
    code, out, _ = run("keep", LOG, "--quiet")
    assert code == 1
    assert out.startswith("run again: front-left travel: column 'travel_fl_mm' has no value in the whole log")


def test_sections_of_a_table_are_the_ones_told(run: Command, work: Path) -> None:
    lines = log_lines(work)
    at = lines[1].split(",").index("travel_fl_mm")
    write_log(work, lines[:500] + [re.sub(rf"^((?:[^,]*,){{{at}}})[^,]*,", r"\1,", line) for line in lines[500:600]] + lines[600:])
    (work / "mine.csv").write_text("name,start_s,end_s\nstraight,0,2\nramp,2.2,5\n", encoding="utf-8")
    code, out, _ = run("keep", LOG, "--sections", "mine.csv", "--quiet")
    assert (code, out.splitlines()[0]) == (0, "usable except section ramp: 0.5 s dropout")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("none",), "is not in"),
        (("logs/quarry_loop_dash.csv",), "say how to read it with --map"),
        (("none.csv", "--map", "marram_logger"), "found no such file"),
        ((LOG, "--sections", "none.csv"), "can't be read"),
        ((LOG, "--calibration", "none"), "expected a calibration file"),
        ((LOG, "--vehicle", "none"), "expected a vehicle file"),
        ((LOG, "--out", "logs"), "holds what no run has written"),
    ],
)
def test_what_can_not_be_used_is_one_line_and_exit_code_2(arguments: tuple[str, ...], says: str, run: Command, work: Path) -> None:
    before = sorted(work.rglob("*"))
    code, out, err = run("keep", *arguments, "--quiet")
    assert (code, out, len(err.splitlines())) == (2, "", 1)
    assert says in err
    assert sorted(work.rglob("*")) == before

"""The scene: 31 jumps marked by two people, a lower airborne threshold, and yesterday's check beside today's."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from tests.dualduty.command_line.conftest import Command, Said
from tests.dualduty.command_line.jumps_log import DIP, LOG, PROPOSED, WEAK, write_jumps

# a threshold of 2 % of the weight in place of 8, and half the evidence; over the brow of jump 21 the ground carries 2.6 % all along
LOWER = """name = "lower airborne threshold"
starts_from = "marram_baseline.toml"

[detectors.Airborne]
sure_share_pct = 2
sure_evidence_ms = 18
"""
GATES = """[airborne]
max_new_false = 0
min_margin_ms = { 120_to_250 = 80, over_500 = 600 }

[landing]
min_recall_pct = 50
"""


@pytest.fixture
def jumps(work: Path) -> Path:
    """A working folder with the made-up jumps as its only log, and the candidate."""
    for path in (work / "logs").iterdir():
        path.unlink()
    write_jumps(work / "logs")
    (work / "strategies" / "lower.toml").write_text(LOWER, encoding="utf-8")
    (work / "detector_gates.toml").write_text(GATES, encoding="utf-8")
    return work


@pytest.fixture
def checked(jumps: Path, run: Command) -> tuple[Path, Said, Said]:
    """Yesterday's check, kept; and today's against it, with page and JUnit."""
    (jumps / "mild.toml").write_text("[airborne]\nmin_recall_pct = 80\n", encoding="utf-8")
    before = run("check", "marram_baseline", "--quiet", "--gates", "mild.toml", "--keep-reference", "yesterday.json")
    now = run("check", "lower", "--quiet", "--reference", "yesterday.json", "--out", "shown", "--junit", "check.xml")
    return jumps, before, now


def test_31_jumps_and_a_lower_threshold(checked: tuple[Path, Said, Said]) -> None:
    folder, before, now = checked
    assert (before.code, now.code) == (0, 1)
    assert "airborne: 31 of 31 marked by both" in before.out
    assert f"airborne: {len(PROPOSED)} of {len(PROPOSED)} marks found that the detector proposed itself; counted apart" in now.out
    assert re.search(rf"(?m)^airborne +{31 - len(PROPOSED)} ", now.out)  # headline: independent marks only
    _says_what_changed(now)
    _says_margins_and_timing(now)
    _drawn(folder)
    _for_a_build_server(folder)
    kept = json.loads((folder / "yesterday.json").read_text(encoding="utf-8"))
    assert [log["name"] for log in kept["logs"]] == [LOG]


def _says_what_changed(now: Said) -> None:
    told = now.out.splitlines()
    lost = [line for line in told if line.startswith("  lost: ")]
    assert [line.split("@")[0] for line in lost] == [f"  lost: {LOG}: airborne", f"  lost: {LOG}: landing"]  # no flight, no landing
    assert all(line.endswith(f"jump {WEAK + 1}") for line in lost)
    false = [line for line in told if line.startswith("  new false: ") and "airborne" in line]
    assert len(false) == 1
    at = float(re.findall(r"airborne@([\d.]+)", false[0])[0])
    assert DIP < at < DIP + 0.12
    assert any(line.startswith("  airborne: 1 lost and 0 gained of 31; by chance alone: p = 1") for line in told)
    crossed = [line for line in told if line.startswith("limit not kept: ")]
    assert [re.sub(r"[\d.]+ ms before.*", "...", line) for line in crossed if "lost" not in line] == [
        f"limit not kept: {LOG}: airborne over 500 ms: seen ...",
        f"limit not kept: {LOG}: airborne: 1 false that the reference has not, at most 0 wanted",
    ]
    assert sum("1 found in the reference and lost now" in line for line in crossed) == 2


def _says_margins_and_timing(now: Said) -> None:
    assert "timing: signals at 200 Hz, ticks of 2 ms: a latency is known to within ±3.5 ms" in now.out
    classes = re.findall(r"flights of (\S+ (?:to )?\d+) ms: (\d+) of (\d+) found", now.out)
    assert [name for name, *_ in classes] == ["under 120", "120 to 250", "250 to 500", "over 500"]
    assert sum(int(marks) for *_, marks in classes) == 31 - len(PROPOSED)
    assert [(int(found), int(marks)) for _, found, marks in classes[1:]] == [(6, 6), (11, 12), (8, 8)]  # the brow lasts 0.43 s


def _drawn(folder: Path) -> None:
    names = {path.name for path in (folder / "shown").iterdir()}
    assert {"check.html", "events.csv", f"detectors_{LOG}.png"} < names
    page = (folder / "shown" / "check.html").read_text(encoding="utf-8")
    for heading in ("lost: 2", "new false: 2", "missed: 3"):  # the false flight has a false landing; three hops are seen too late
        assert f"<h3>{heading}</h3>" in page
    assert page.count("<img") > 6
    assert not re.search(r"(src|href)=\"(?!data:|#)", page)  # one file, nothing from elsewhere
    with (folder / "shown" / "events.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    own = [row for row in rows if row["proposed_by_itself"] == "yes"]
    assert [(row["state"], row["outcome"]) for row in own] == [("airborne", "found")] * len(PROPOSED)


def _for_a_build_server(folder: Path) -> None:
    suites = ET.parse(folder / "check.xml").getroot().findall("testsuite")  # noqa: S314 - our own file
    assert [suite.get("name") for suite in suites] == [LOG, "limits over all logs"]
    failed = [case.get("name") or "" for case in suites[0].findall("testcase") if case.find("failure") is not None]
    assert failed[:2] == ["airborne as marked", "landing as marked"]
    assert [name.split("@")[0] for name in failed[2:]] == ["airborne", "landing"]
    assert all(name.endswith("is still found") for name in failed[2:])


def test_the_same_check_again_is_kept_and_has_lost_nothing(jumps: Path, run: Command) -> None:
    (jumps / "detector_gates.toml").unlink()
    run("check", "marram_baseline", "--quiet", "--keep-reference", "kept.json")
    again = run("check", "marram_baseline", "--quiet", "--reference", "kept.json", "--keep-reference", "again.json")
    assert again.code == 0
    assert "nothing lost, gained, false or slower" in again.out
    assert (jumps / "again.json").read_bytes() == (jumps / "kept.json").read_bytes()


def test_states_that_nobody_looked_for_are_not_judged(jumps: Path, run: Command) -> None:
    marks, sheet = jumps / "logs" / f"{LOG}.marks.csv", jumps / "logs" / f"{LOG}.toml"
    rows = marks.read_text(encoding="utf-8").splitlines()
    marks.write_text("\n".join(row for row in rows if not row.startswith("landing")) + "\n", encoding="utf-8")
    every = run("check", "marram_baseline", "--quiet")
    assert "nobody marked landing here" in every.out
    assert "limit not kept: jumps: landing: found nothing to judge by" in every.out
    run_file = sheet.read_text(encoding="utf-8")
    sheet.write_text(run_file + 'marked = ["airborne"]\n', encoding="utf-8")
    some = run("check", "marram_baseline", "--quiet")
    assert "landing" not in some.out
    assert [row.split() for row in re.findall(r"(?m)^airborne .*", some.out)] == [
        row.split() for row in re.findall(r"(?m)^airborne .*", every.out)
    ]
    swept = run("threshold-sweep", "marram_baseline", "Landing.hard_m_s", "--from", "3", "--to", "5", "--state", "landing", "--quiet")
    assert (swept.code, len(swept.lines)) == (2, 1)
    assert "nobody looked for it" in swept.err
    sheet.write_text(run_file + 'marked = ["airbourne"]\n', encoding="utf-8")
    wrong = run("check", "marram_baseline", "--quiet")
    assert (wrong.code, len(wrong.lines)) == (2, 1)
    assert "marked: 'airbourne' is no state of this calibration; did you mean 'airborne'?" in wrong.err
    sheet.write_text(run_file + "marked = 3\n", encoding="utf-8")
    assert "marked: expected a list of states that were looked for, came 3" in run("check", "marram_baseline", "--quiet").err


def test_marks_that_are_not_sure_enough_count_neither_way(jumps: Path, run: Command) -> None:
    marks = jumps / "logs" / f"{LOG}.marks.csv"
    marks.write_text(marks.read_text(encoding="utf-8").replace("100 %", "60 %", 2), encoding="utf-8")
    strict = run("check", "marram_baseline", "--quiet", "--min-sure", "90")
    usual = run("check", "marram_baseline", "--quiet")
    counted = [re.findall(r"(?m)^airborne +(\d+) ", said.out)[0] for said in (strict, usual)]
    assert [int(number) for number in counted] == [31 - len(PROPOSED) - 1, 31 - len(PROPOSED)]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--reference", "none.json"), "none.json: can't be read"),
        (("--reference", "logs/jumps.toml"), "logs/jumps.toml: expected a kept check (JSON)"),
        (("--out", "logs"), "logs: holds what no run has written"),
        (("--junit", "logs/jumps.csv"), "logs/jumps.csv: holds what no run has written"),
        (("--keep-reference", "strategies/marram_baseline.toml"), "strategies/marram_baseline.toml: holds what no run has written"),
        (("--junit", "kept.json"), "kept.json: expected two files"),
        (("--min-sure", "20"), "--min-sure"),
    ],
)
def test_what_can_not_be_used_is_one_line_and_nothing_is_written(jumps: Path, run: Command, arguments: tuple[str, ...], said: str) -> None:
    before = sorted(path for path in jumps.rglob("*"))
    result = run("check", "marram_baseline", "--quiet", "--keep-reference", "kept.json", "--junit", "kept.xml", *arguments)
    assert result.code == 2
    assert any(said in line for line in result.lines)
    assert sorted(path for path in jumps.rglob("*")) == before


def test_a_reference_of_another_log_compares_nothing_and_says_so(run: Command, work: Path) -> None:
    asked = ("check", "marram_baseline", "--quiet", "--log")
    assert run(*asked, "quarry_loop_dash", "--keep-reference", "dash.json")[0] in (0, 1)
    for old in sorted((work / "logs").iterdir()):
        text = old.read_text(encoding="utf-8").replace("quarry_loop_dash", "another")
        (work / "logs" / old.name.replace("quarry_loop_dash", "another")).write_text("# another\n" + text, encoding="utf-8")
    code, _, err = run(*asked, "another", "--reference", "dash.json")
    assert code == 2
    assert err.startswith("dualduty: dash.json: has no mark in common with this check")

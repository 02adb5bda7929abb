"""JUnit XML of a check: held to what schemas in use agree on, whatever names and notes hold."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from dualduty.calibration.read import read_calibration
from dualduty.discovery import discover
from dualduty.shipped import shipped_calibrations
from dualduty.trial.check_junit import Suite, TestCase, junit_text, suites_of, write_junit
from dualduty.trial.check_session import CheckSession, session_of
from dualduty.trial.checked_log import CheckedLog
from dualduty.trial.run_sheet import RunSheet
from replay.check.detector_check import check
from replay.check.detector_gates import Gate, Gates
from replay.check.reference import KeptLog, Reference
from replay.marks.mark import Mark
from tests.replay.hand_made_trace import Active, trace_of

WHEN = datetime(2031, 5, 4, 3, 2, 1, tzinfo=UTC)
MARKS = [Mark("airborne", 10.0, 10.5, note='kicker <1> & "lip" \x07'), Mark("landing", 10.5, 10.7)]
SUITE_NEEDS = {"name", "tests", "failures", "errors", "time", "timestamp", "hostname", "id", "package"}
CASE_NEEDS = {"name", "classname", "time"}


def log_of(name: str, active: Active) -> CheckedLog:
    sheet = RunSheet(name, Path(f"{name}.csv"), Path("map.toml"), None, "", "", "")
    silent: Active = {"airborne": {0: []}, "landing": {0: []}}
    trace = trace_of(silent | active)
    return CheckedLog(sheet, trace, check(trace, MARKS), 200.0, seconds=0.25)


@pytest.fixture(scope="module")
def session() -> CheckSession:
    """One log as it was, one that lost its flight; a limit that both are held to."""
    calibration = read_calibration(shipped_calibrations() / "strategies" / "marram_baseline.toml", discover())
    good: Active = {"airborne": {0: [(10.0, 10.5)]}, "landing": {0: [(10.5, 10.7)]}}
    before = [log_of("hill", good), log_of("pit", good)]
    reference = Reference("yesterday", "", tuple(KeptLog(log.sheet.name, "", log.result) for log in before))
    gates = Gates({"airborne": Gate(min_recall=0.9), "landing": Gate(min_recall=0.9)})
    return session_of(calibration, gates, [before[0], log_of("pit", {"landing": {0: [(10.5, 10.7)]}})], reference)


def parsed(text: str) -> ET.Element:
    return ET.fromstring(text)  # noqa: S314 - our own text


def test_what_failed_stands_in_the_log_where_it_failed(session: CheckSession) -> None:
    hill, pit, limits = suites_of(session)
    assert [suite.name for suite in (hill, pit, limits)] == ["hill", "pit", "limits over all logs"]
    assert [case.failure for case in hill.cases] == ["", ""]  # all of its marks are found
    assert [(case.name, case.failure) for case in pit.cases if case.failure] == [
        ("airborne as marked", "airborne: found 50 %, at least 90 % wanted"),
        ("airborne@10.000 is still found", "found in the reference and lost now"),
    ]  # fmt: skip
    assert [(case.name, bool(case.failure)) for case in limits.cases] == [
        ("airborne: min_recall_pct", True), ("landing: min_recall_pct", False), ("airborne: no_lost", True), ("landing: no_lost", False),
    ]  # fmt: skip


def test_the_file_keeps_to_what_schemas_agree_on(session: CheckSession, tmp_path: Path) -> None:
    write_junit(tmp_path / "check.xml", session, WHEN)
    root = ET.parse(tmp_path / "check.xml").getroot()  # noqa: S314 - our own file
    assert root.tag == "testsuites"
    for suite in root:
        _is_a_suite(suite)
    assert [suite.get("id") for suite in root] == ["0", "1", "2"]


def _is_a_suite(suite: ET.Element) -> None:
    assert suite.tag == "testsuite"
    assert suite.attrib.keys() >= SUITE_NEEDS
    assert suite.get("timestamp") == "2031-05-04T03:02:01"
    tags = [child.tag for child in suite]
    cases = suite.findall("testcase")
    assert tags == ["properties", *["testcase"] * len(cases), "system-out", "system-err"]
    assert int(suite.get("tests", "")) == len(cases)
    assert int(suite.get("failures", "")) == len(suite.findall("testcase/failure"))
    assert (suite.get("errors"), float(suite.get("time", "nan")) >= 0.0) == ("0", True)
    names = [(case.get("classname"), case.get("name")) for case in cases]
    assert len(set(names)) == len(names)
    for case in cases:
        assert case.attrib.keys() == CASE_NEEDS
        assert [child.tag for child in case] in ([], ["failure"])
        assert all(child.get("message") and child.get("type") and child.text for child in case)


@pytest.mark.parametrize("odd", ["a\x00b", "\x1b[31m", "\ud800", "￾", "<&>\"'", "ö ∑ 🚙", "]]>"])
def test_odd_letters_end_in_a_file_that_can_be_read(odd: str) -> None:
    text = junit_text([Suite(odd, (TestCase(odd, odd, (odd, "")),), 1.0, (odd,))], odd, WHEN)
    text.encode("utf-8")
    case = parsed(text).find("testsuite/testcase")
    assert case is not None
    kept = case.get("name") or ""
    assert kept == "".join(letter for letter in odd if letter >= " " and letter not in "\ud800￾")


def test_the_same_check_gives_the_same_text(session: CheckSession) -> None:
    texts = [junit_text(suites_of(session), session.calibration.name, WHEN) for _ in range(2)]
    assert texts[0] == texts[1]

"""A detector check for a build server: JUnit XML, a suite per log and one of the limits over all logs.

The format has no standard. What is written keeps to the common core of the schemas in use: a suite carries counts, time stamp, host,
properties and both outputs in this order; a failure has a message, a type and a text.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from dualduty.files import write_text
from dualduty.trial.check_session import CheckSession
from dualduty.trial.check_words import event_line
from dualduty.trial.checked_log import CheckedLog
from replay.check.result import StateResult

OF_TIME = ("max_onset", "max_offset", "min_margin", "max_toggles", "max_merges")
ALLOWED = {"\t", "\n"}  # of what lies below a blank, XML 1.0 can't hold more that we would write


@dataclass(frozen=True)
class TestCase:
    """One line of a build server's list; a failure has a message, and lines that say more."""

    __test__ = False  # no test of ours, whatever its name begins with

    name: str
    failure: str = ""
    said: tuple[str, ...] = ()


@dataclass(frozen=True)
class Suite:
    """Cases that belong together, how long they took [s], and what was said."""

    name: str
    cases: tuple[TestCase, ...]
    seconds: float = 0.0
    said: tuple[str, ...] = ()


def write_junit(path: Path, session: CheckSession, when: datetime | None = None) -> None:
    """Write the whole check as JUnit XML."""
    write_text(path, junit_text(suites_of(session), session.calibration.name, when or datetime.now(UTC)))


def suites_of(session: CheckSession) -> list[Suite]:
    """A suite per log, then the limits."""
    limits = tuple(TestCase(f"{limit.state}: {limit.key or 'checked'}", "" if limit.kept else limit.said) for limit in session.limits)
    over_all = [Suite("limits over all logs", limits)] if limits else []
    return [_log_suite(log, session) for log in session.logs] + over_all


def _log_suite(log: CheckedLog, session: CheckSession) -> Suite:
    states = [_state_case(one, log, session) for one in log.result.states]
    lost = session.comparison.of("", "lost") if session.comparison else []
    cases = [
        TestCase(f"{one.event.name} is still found", "found in the reference and lost now", (one.event.note,))
        for one in lost
        if one.log == log.sheet.name
    ]
    return Suite(log.sheet.name, (*states, *cases), log.seconds, tuple(_said(one) for one in log.result.states))


def _state_case(one: StateResult, log: CheckedLog, session: CheckSession) -> TestCase:
    """Fails where a limit of the state is crossed over all logs and this log has part in it."""
    crossed = [limit for limit in session.crossed if limit.state == one.state]
    wrong = [event_line(event) for event in log.result.outcomes("missed", "false", "late", "fragment") if event.state == one.state]
    if one.found and any(limit.key.startswith(OF_TIME) for limit in crossed):  # also a log without a wrong event has part in these
        wrong.append(f"onset {1e3 * one.onset[1]:.0f} ms late (90th percentile), offset {1e3 * one.offset[1]:.0f} ms")
    if not crossed or not wrong:
        return TestCase(f"{one.state} as marked")
    return TestCase(f"{one.state} as marked", crossed[0].said, (*(limit.said for limit in crossed), *wrong))


def _said(one: StateResult) -> str:
    return f"{one.state}: {one.found} of {one.found + one.missed} found, {one.false} false, {one.fragments} fragments, {one.late} late"


def junit_text(suites: Sequence[Suite], calibration: str, when: datetime) -> str:
    """Suites as XML; the same check at the same time gives the same text."""
    root = ET.Element("testsuites")
    for index, suite in enumerate(suites):
        failed = sum(bool(case.failure) for case in suite.cases)
        element = ET.SubElement(
            root, "testsuite", id=str(index), package="dualduty.check", name=_clean(suite.name), hostname="localhost",
            timestamp=when.strftime("%Y-%m-%dT%H:%M:%S"),
            tests=str(len(suite.cases)), failures=str(failed), errors="0", skipped="0", time=f"{suite.seconds:.3f}",
        )  # fmt: skip
        properties = ET.SubElement(element, "properties")
        ET.SubElement(properties, "property", name="calibration", value=_clean(calibration))
        for case in suite.cases:
            _write_case(element, suite, case)
        ET.SubElement(element, "system-out").text = _clean("\n".join(suite.said))
        ET.SubElement(element, "system-err").text = ""
    ET.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def _write_case(parent: ET.Element, suite: Suite, case: TestCase) -> None:
    element = ET.SubElement(parent, "testcase", classname=_clean(f"check.{suite.name}"), name=_clean(case.name), time="0.000")
    if case.failure:
        failure = ET.SubElement(element, "failure", message=_clean(case.failure), type="limit not kept")
        failure.text = _clean("\n".join(line for line in case.said if line) or case.failure)


def _clean(text: str) -> str:
    """Without characters that XML 1.0 can't hold."""
    return "".join(letter for letter in text if letter in ALLOWED or (letter >= " " and not _is_odd(ord(letter))))


def _is_odd(code: int) -> bool:
    return 0xD800 <= code <= 0xDFFF or code in (0xFFFE, 0xFFFF)  # noqa: PLR2004 - surrogates and non-characters, XML 1.0, production 2

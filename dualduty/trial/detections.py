"""A detector check as rows for pictures and pages, and in words."""

from __future__ import annotations

from collections.abc import Collection
from math import isnan
from typing import Any

from replay.check.detector_check import CheckResult, Event

_KINDS = {"found": "found", "missed": "missed", "false": "false", "late": "false"}


def detection_rows(result: CheckResult) -> list[dict[str, Any]]:
    """Found, missed and false events as the detector picture takes them; a late detection is drawn as a false one."""
    return [_row(event) for event in result.events if event.outcome in _KINDS]


def _row(event: Event) -> dict[str, Any]:
    marked = not isnan(event.mark_start)
    start, end = (event.mark_start, event.mark_end) if marked else (event.detected_start, event.detected_end)
    row: dict[str, Any] = {"state": event.state, "kind": _KINDS[event.outcome], "start": start, "end": end}
    if event.outcome == "found":
        row |= {"latency_ms": 1e3 * event.onset_latency, "detected_start": event.detected_start, "detected_end": event.detected_end}
    return row


def differing(before: CheckResult, after: CheckResult) -> list[str]:
    """Sentences on what the candidate's detectors found, missed or invented that the baseline's did not."""
    old, new = ({_key(event): event.outcome for event in result.events} for result in (before, after))
    lines = [
        f"{_name(key)}: {old[key]} with the baseline, {new[key]} with the candidate" for key in new if key in old and old[key] != new[key]
    ]
    lines += [f"{_name(key)}: {new[key]} with the candidate only" for key in new if key not in old]
    lines += [f"{_name(key)}: {old[key]} with the baseline only" for key in old if key not in new]
    return lines or ["Baseline and candidate find, miss and invent the same events."]


def _key(event: Event) -> tuple[str, str, float]:
    start = event.detected_start if isnan(event.mark_start) else event.mark_start
    return (event.state, event.where, round(start, 3))


def _name(key: tuple[str, str, float]) -> str:
    state, where, start = key
    return f"{state.replace('_', ' ')}{f' {where}' if where else ''} at {start:.2f} s"


def summary_lines(result: CheckResult, states: Collection[str] | None = None) -> list[str]:
    """One line per state, all or only those named: found of marks, false, and latency."""
    return [
        f"{state.state.replace('_', ' ')}: {state.found} of {state.found + state.missed} found, {state.false} false"
        + (f", onset {1e3 * state.onset[0]:+.0f} ms median, {1e3 * state.onset[2]:+.0f} ms at worst" if state.found else "")
        for state in result.states
        if states is None or state.state in states
    ]

"""A check kept for tomorrow: every mark with what became of it, every detection without one, and the figures, as a JSON file.

Times are seconds with their rounding as they are: a mark is known again by its state, place, start and end. Logs and marks are named by
digest, so that a reference of other ones is told apart instead of compared.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Final

from dualduty.errors import BadInput
from dualduty.files import write_text
from replay.check.result import CheckResult, Event, Exposure, StateResult, state_result
from replay.check.rules import Rule

FORMAT: Final = "dualduty detector check, 1"
_TIMES: Final = ("mark_start", "mark_end", "detected_start", "detected_end")


@dataclass(frozen=True)
class KeptLog:
    """One log of a reference: digest of its recording, and what the check found."""

    name: str
    digest: str
    result: CheckResult


@dataclass(frozen=True)
class Reference:
    """A kept check: of which calibration, by digest, with which versions, and every log."""

    calibration: str
    digest: str
    logs: tuple[KeptLog, ...]
    versions: Mapping[str, str] = field(default_factory=dict)

    def of(self, name: str) -> KeptLog | None:
        """A log by its name."""
        return next((log for log in self.logs if log.name == name), None)


def recording_digest(digests: Mapping[str, str]) -> str:
    """One digest of a recording from those of its files, whatever map it was read through; "" where it lies in no file."""
    files = [digests[name] for name in sorted(digests) if name != "channel map"]
    joined = files[0] if len(files) == 1 else hashlib.sha256("".join(files).encode()).hexdigest()
    return joined[:16] if files else ""


def write_reference(path: Path, reference: Reference) -> None:
    """Write a reference whole or not at all; the same check gives the same bytes."""
    content = {
        "format": FORMAT, "calibration": {"name": reference.calibration, "digest": reference.digest}, "versions": dict(reference.versions),
        "logs": [_log_content(log) for log in reference.logs],
    }  # fmt: skip
    write_text(path, json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False) + "\n")


def _log_content(log: KeptLog) -> dict[str, Any]:
    states = [
        {
            "state": one.state, "rule": asdict(one.rule), "exposure": _plain(asdict(one.exposure)),
            "figures": {key: value for key, value in _plain(one.to_row()).items() if key != "state"},
        }
        for one in log.result.states
    ]  # fmt: skip
    events = [_plain({**asdict(event), "beside": list(event.beside), "margins": list(event.margins)}) for event in log.result.events]
    return {
        "name": log.name, "digest": log.digest, "length_s": log.result.length, "tick_s": log.result.tick,
        "states": states, "events": events,
    }  # fmt: skip


def _plain(row: Mapping[str, Any]) -> dict[str, Any]:
    """JSON knows neither NaN nor infinity: what has no value is null."""
    return {key: None if isinstance(value, float) and not math.isfinite(value) else value for key, value in row.items()}


def read_reference(path: Path) -> Reference:
    """Read a kept check; BadInput where the file is none, or is cut short."""
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise BadInput(path, f"can't be read: {error.strerror or error}") from None
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as error:
        raise BadInput(path, f"expected a kept check (JSON), written by check --keep-reference; {error}") from None
    came = content.get("format") if isinstance(content, dict) else None
    if came != FORMAT:
        raise BadInput(path, f"format: expected {FORMAT!r}, came {came!r}; keep a new one with check --keep-reference")
    try:
        logs = tuple(_log(log) for log in content["logs"])
        made_of = content["calibration"]
        return Reference(str(made_of["name"]), str(made_of["digest"]), logs, dict(content["versions"]))
    except (KeyError, IndexError, TypeError, ValueError, AttributeError) as error:
        raise BadInput(path, f"is no whole check: {type(error).__name__} at {error}; keep a new one with check --keep-reference") from None


def _log(content: Mapping[str, Any]) -> KeptLog:
    events = tuple(_event(row) for row in content["events"])
    states = tuple(_state(row, events) for row in content["states"])
    result = CheckResult(events, states, float(content["length_s"]), float(content["tick_s"]))
    return KeptLog(str(content["name"]), str(content["digest"]), result)


def _event(row: Mapping[str, Any]) -> Event:
    times = {name: math.nan if row[name] is None else float(row[name]) for name in (*_TIMES, "overlap")}
    return Event(
        str(row["state"]), str(row["where"]), str(row["outcome"]), **times, mark_row=int(row["mark_row"]), note=str(row["note"]),
        own=bool(row["own"]), sure=float(row["sure"]), beside=tuple(str(state) for state in row["beside"]),
        margins=(float(row["margins"][0]), float(row["margins"][1])),
    )  # fmt: skip


def _state(row: Mapping[str, Any], events: Sequence[Event]) -> StateResult:
    exposure: dict[str, Any] = {key: math.inf if value is None else value for key, value in row["exposure"].items()}
    rule, state = Rule(**row["rule"]), str(row["state"])
    return state_result(state, rule, (event for event in events if event.state == state), Exposure(**exposure))

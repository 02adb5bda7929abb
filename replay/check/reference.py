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
from replay.check.rules import WAYS, Rule

KIND: Final = "dualduty detector check"
FORMAT: Final = f"{KIND}, 1"
_MARKED: Final = ("mark_start", "mark_end")
_DETECTED: Final = ("detected_start", "detected_end")
_TIMES: Final = (*_MARKED, *_DETECTED)
_TIMES_OF: Final = {  # by outcome: the times that an event of it must have
    "found": _TIMES, "missed": _MARKED, **dict.fromkeys(("false", "fragment", "late", "ignored"), _DETECTED),
}  # fmt: skip


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
    except (ValueError, RecursionError) as error:  # not UTF-8, no JSON, or a number of thousands of digits
        raise BadInput(path, f"expected a kept check (JSON), written by check --keep-reference; {error}") from None
    came = content.get("format") if isinstance(content, dict) else None
    if came != FORMAT:
        raise BadInput(path, f"format: expected {FORMAT!r}, came {came!r}; keep a new one with check --keep-reference")
    try:
        logs = tuple(_log(log) for log in content["logs"])
        made_of = content["calibration"]
        return Reference(str(made_of["name"]), str(made_of["digest"]), logs, dict(content["versions"]))
    except (LookupError, TypeError, ValueError, AttributeError, ArithmeticError) as error:
        raise BadInput(path, f"is no whole check: {type(error).__name__} at {error}; keep a new one with check --keep-reference") from None


def _log(content: Mapping[str, Any]) -> KeptLog:
    events = tuple(_event(row) for row in content["events"])
    states = tuple(_state(row, events) for row in content["states"])
    strange = sorted({event.state for event in events} - {one.state for one in states})
    if strange or len({one.state for one in states}) < len(states):
        raise ValueError(f"states: expected each state of an event once, came {[one.state for one in states]} for {strange or 'them'}")
    result = CheckResult(events, states, _number(content, "length_s", 0.0), _number(content, "tick_s", 0.0))
    return KeptLog(str(content["name"]), str(content["digest"]), result)


def _event(row: Mapping[str, Any]) -> Event:
    times = {name: _number_or(row, name, math.nan) for name in (*_TIMES, "overlap")}
    if row["outcome"] not in _TIMES_OF or not isinstance(row["own"], bool):
        raise ValueError(f"outcome, own: expected one of {', '.join(_TIMES_OF)} and true or false, came {row['outcome']!r}, {row['own']!r}")
    for name in _TIMES_OF[row["outcome"]]:
        _number(row, name)
    margins = dict(zip(("start", "end"), row["margins"], strict=True))
    return Event(
        str(row["state"]), str(row["where"]), row["outcome"], **times, mark_row=int(row["mark_row"]), note=str(row["note"]),
        own=row["own"], sure=_number(row, "sure", 0.0, 1.0), beside=tuple(str(state) for state in row["beside"]),
        margins=(_number(margins, "start", 0.0), _number(margins, "end", 0.0)),
    )  # fmt: skip


def _state(row: Mapping[str, Any], events: Sequence[Event]) -> StateResult:
    said, state = row["exposure"], str(row["state"])
    exposure: dict[str, Any] = {key: _number_or(said, key, math.inf, 0.0) for key in said}
    whole = {key: int(exposure[key]) for key in ("toggles", "merges")}
    mine = (event for event in events if event.state == state)
    return state_result(state, _rule(row["rule"]), mine, Exposure(**(exposure | whole)))


def _rule(row: Mapping[str, Any]) -> Rule:
    if row["match"] not in WAYS:
        raise ValueError(f"match: expected one of {', '.join(WAYS)}, came {row['match']!r}")
    deadline = None if row["deadline"] is None else _number(row, "deadline", 0.0)
    return Rule(**{**row, "collar": _number(row, "collar", 0.0), "deadline": deadline, "margin": _number(row, "margin", 0.0)})


def _number_or(row: Mapping[str, Any], key: str, nothing: float, least: float = -math.inf) -> float:
    """A number, or `nothing` where null stands for it."""
    return nothing if row[key] is None else _number(row, key, least)


def _number(row: Mapping[str, Any], key: str, least: float = -math.inf, most: float = math.inf) -> float:
    value = row[key]
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value) or not least <= value <= most:
        between = "" if least == -math.inf else f" of {least:g} or more" if most == math.inf else f" from {least:g} to {most:g}"
        raise ValueError(f"{key}: expected a number{between}, came {value!r}")
    return float(value)

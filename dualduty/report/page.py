"""One page in one file: opens anywhere, asks nothing of any network, prints as it stands."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from dualduty.files import write_text
from dualduty.report import words
from dualduty.report.page_content import LogPart, PageContent, Picture, Row
from dualduty.report.score_grid import grids, say_cell
from dualduty.report.verdict import VERDICTS

TEMPLATES: Final = Path(__file__).resolve().parent / "templates"
VERDICT_CLASSES: Final = {
    "better": "better", "worse": "worse", "same": "same", "identical": "identical", "can't tell": "untold", "changed": "moved",
    "not comparable": "apart",
}  # fmt: skip
UNCHANGED: Final = ("same", "identical", "not comparable")


def write_page(path: Path, content: PageContent) -> None:
    """Write the page in one step: the old file stays until the new one is whole."""
    write_text(path, page_text(content))


def page_text(content: PageContent) -> str:
    """The page as text; the same content gives the same text."""
    modes = list(dict.fromkeys(str(row["mode"]) for row in content.scores))
    return environment().get_template("page.html.j2").render(
        page=content,
        headline=list(content.headline) or words.headline(content.scores),
        better=[_short(row) for row in words.of_verdict(content.scores, "better")[:5]],
        worse=[_short(row) for row in words.of_verdict(content.scores, "worse")[:5]],
        modes=modes,
        grids=grids(content.scores, content.score_order),
        scores=[_score(row, modes) for row in words.worst_first(content.scores)],
        logs=[_log(log) for log in content.logs],
        crossed=any(gate.passed is False for gate in content.gates),
        verdicts={name: values[:2] for name, values in VERDICTS.items()}, kinds=VERDICT_CLASSES,
    )  # fmt: skip


@lru_cache(maxsize=1)
def environment() -> Environment:
    """Where templates of pages are found, with the filters they use."""
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
        keep_trailing_newline=True, auto_reload=False,
    )  # fmt: skip
    environment.filters.update(
        embedded=_embedded,
        number=words.say_number,
        unit=words.say_unit,
        size=_size,
        cell=say_cell,
        told=words.say_case,
        count=words.count_sentence,
    )
    return environment


def _embedded(picture: Picture) -> Markup:
    return Markup("data:image/png;base64," + base64.b64encode(picture.png).decode())  # noqa: S704 - base64 has no mark-up


def _size(picture: Picture) -> tuple[int, int]:
    """Width and height from the PNG's header chunk, so that the page doesn't jump while it loads."""
    return int.from_bytes(picture.png[16:20], "big"), int.from_bytes(picture.png[20:24], "big")


def _short(row: Row) -> str:
    return f"{row['mode']}, {words.say_section(row)}: {words.say_case(row)}"


def _score(row: Row, modes: Sequence[str]) -> Mapping[str, Any]:
    verdict = str(row.get("verdict", ""))
    mode = str(row.get("mode", ""))
    changed = "" if verdict in UNCHANGED else " changed"
    return {
        "section": words.say_section(row), "mode": mode, "measure": words.say_measure(row),
        "unit": words.say_unit(str(row.get("unit", ""))),
        "baseline": words.say_number(row.get("baseline")), "candidate": words.say_number(row.get("candidate")),
        "change": words.say_change(row.get("change_pct")), "band": _band(row.get("band")), "verdict": verdict, "remark": words.remark(row),
        "symbol": VERDICTS[verdict][0] if verdict in VERDICTS else "", "kind": VERDICT_CLASSES.get(verdict, "apart") + changed,
        "mode_class": f"mode-{modes.index(mode)}" if mode in modes else "",
    }  # fmt: skip


def _band(band: Any) -> str:
    return f"± {words.say_number(band, 2)}" if words.is_number(band) else words.say_number(band)


def _log(log: LogPart) -> Mapping[str, Any]:
    """A log with its scores and, per state, marks, found, missed, false, and the latencies in the middle and at worst."""
    rows = log.detectors.rows if log.detectors else ()
    states = dict.fromkeys(row["state"] for row in rows)
    return {
        "part": log, "driver": log.driven_by or "an unnamed calibration",
        "scores": [_score(row, []) for row in words.worst_first(log.scores)],
        "detections": [_one_state(state, [row for row in rows if row["state"] == state]) for state in states],
    }  # fmt: skip


def _one_state(state: str, rows: Sequence[Row]) -> Mapping[str, Any]:
    count = {kind: sum(row["kind"] == kind for row in rows) for kind in ("found", "missed", "false")}
    late = sorted(float(row["latency_ms"]) for row in rows if row["kind"] == "found" and words.is_number(row.get("latency_ms")))
    middle = 0.5 * (late[(len(late) - 1) // 2] + late[len(late) // 2]) if late else None
    return {
        "state": state.replace("_", " "), "marks": count["found"] + count["missed"], **count,
        "middle": words.say(round(middle) if middle is not None else None, "ms"),
        "worst": words.say(round(late[-1]) if late else None, "ms"),
    }  # fmt: skip

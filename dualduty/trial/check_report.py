"""The result folder of a detector check: the page, a picture per log, and every event as a row."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from dualduty.discovery import PlugIns
from dualduty.files import result_folder, write_text
from dualduty.report.check_page import CheckPage, Grid, write_check_page
from dualduty.report.check_pictures import Points, draw_cross_triggers, draw_latencies, draw_margins
from dualduty.report.detector_picture import draw_detections
from dualduty.report.figure_file import png_bytes, write_figure
from dualduty.report.page_content import Gate, Picture
from dualduty.trial.check_events import event_groups, events_table
from dualduty.trial.check_session import CheckSession
from dualduty.trial.check_words import FIGURES, comparison_lines, figure_rows, lines_below, number
from dualduty.trial.checked_log import CheckedLog
from dualduty.trial.detections import detection_rows, summary_lines
from replay.check.cross_triggers import cross_matrix
from replay.check.result import CheckResult, Event
from replay.check.touchdown import by_air_time

NO_LIMIT: Final = float("inf")
COLUMNS: Final = ("state", "marks", "found", "missed", "false", "false per min", "onset median", "p90", "worst")


def write_check_folder(folder: Path, session: CheckSession, plug_ins: PlugIns) -> None:
    """Write the whole folder or nothing."""
    with result_folder(folder) as draft:
        drawn = [(log, draw_detections(detection_rows(log.result))) for log in session.logs]
        for log, figure in drawn:
            write_figure(figure, draft / f"detectors_{log.sheet.name}.png")
        pictures = [
            Picture(f"Marks and detections: {log.sheet.name}", png_bytes(figure), "Marks and detections over time") for log, figure in drawn
        ]
        write_text(draft / "events.csv", events_table(session))
        write_check_page(draft / "check.html", page_of(session, plug_ins, pictures))


def page_of(session: CheckSession, plug_ins: PlugIns, log_pictures: Sequence[Picture]) -> CheckPage:
    """The page of a check, pictures of events included."""
    against = comparison_lines(session.comparison) if session.comparison else []
    return CheckPage(
        title=f"Detector check: {session.calibration.name}",
        subtitle=f"{session.called}; marks against what the detectors say of the same recording.",
        headline=summary_lines(session.over_all, session.judged),
        gates=[Gate(f"{limit.state} {limit.key}".strip(), limit.kept, limit.said) for limit in session.limits],
        figures=[
            Grid(session.called, COLUMNS, tuple(counted_rows(session.over_all))),
            Grid("How sure, and what else", FIGURES, tuple(figure_rows(session)), tuple(lines_below(session))),
        ],
        pictures=list(_pictures(session)), against=[line.strip() for line in against], groups=event_groups(session, plug_ins),
        logs=[Grid(_log_title(log), COLUMNS, tuple(counted_rows(log.result))) for log in session.logs],
        log_pictures=log_pictures,
        noticed=[f"{log.sheet.name}: {line}" for log in session.logs for line in log.notice_lines()],
        provenance=_provenance(session),
    )  # fmt: skip


def counted_rows(result: CheckResult) -> Iterator[tuple[str, ...]]:
    """Counts and onset latency per state, in the order of COLUMNS."""
    for one in result.states:
        late = [f"{1e3 * value:+.0f} ms" if one.found else "-" for value in one.onset]
        counts = (str(one.found + one.missed), str(one.found), str(one.missed), str(one.false), number(one.false_per_minute))
        yield (one.state, *counts, *late)


def _log_title(log: CheckedLog) -> str:
    return f"{log.sheet.name}, driven by {log.sheet.driven_by}" if log.sheet.driven_by else log.sheet.name


def _pictures(session: CheckSession) -> Iterator[Picture]:
    """Latencies, margin before touchdown, cross-triggers; only those that have something to show."""
    gates = session.gates.gates
    latencies = [
        Points(
            one.state, tuple(1e3 * event.onset_latency for event in session.over_all.events if _is_found(event, one.state)), one.missed,
            1e3 * gates[one.state].max_onset_p90 if one.state in gates else NO_LIMIT,
        )
        for one in session.over_all.states
        if one.found + one.missed
    ]  # fmt: skip
    if latencies:
        yield _picture(draw_latencies([_finite(row) for row in latencies]), "Onset latency of every mark found, by state")
    limits = gates["airborne"].min_margin if "airborne" in gates else {}
    margins = [
        Points(
            one.label, tuple(1e3 * value for value in one.margins), one.marks - len(one.margins), 1e3 * limits.get(one.key, float("inf"))
        )
        for one in by_air_time(session.over_all)
    ]
    if margins:
        yield _picture(draw_margins([_finite(row) for row in margins]), "Time between detection and touchdown, by air time")
    counts = cross_matrix(session.over_all.events)
    if counts:
        yield _picture(draw_cross_triggers(counts), "How often each state was seen without a mark, by what was marked then")


def _is_found(event: Event, state: str) -> bool:
    return event.state == state and event.outcome == "found" and not event.own


def _finite(row: Points) -> Points:
    return row if row.limit < NO_LIMIT else Points(row.name, row.values, row.without)


def _picture(figure: object, alternative: str) -> Picture:
    return Picture("", png_bytes(figure), alternative)  # type: ignore[arg-type]


def _provenance(session: CheckSession) -> list[tuple[str, str]]:
    reference = session.reference
    rows = [("calibration", f"{session.calibration.name} ({session.calibration.file.name}, digest {session.calibration.digest})")]
    rows += [(f"log {log.name}", f"digest {log.digest}, {log.result.length:.1f} s") for log in reference.logs]
    rows += [("versions", ", ".join(f"{name} {number}" for name, number in reference.versions.items()))]
    return rows

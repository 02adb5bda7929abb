"""What went wrong in a check, event by event: groups with pictures for the page, and every event as a row of a table."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from dualduty.discovery import PlugIns
from dualduty.report.check_page import EventGroup
from dualduty.report.event_picture import draw_event
from dualduty.report.figure_file import png_bytes
from dualduty.report.page_content import Picture
from dualduty.trial.check_session import CheckSession
from dualduty.trial.check_words import event_line, milliseconds
from dualduty.trial.checked_log import CheckedLog
from dualduty.trial.event_moments import AROUND, Wanted, moments_of
from replay.check.result import Event

MOST_DRAWN: Final = 200  # pictures of events on a page: some 6 MB
GROUPS: Final = {
    "lost": "Found in the reference, missed now.",
    "new false": "Seen where nothing is marked, and not so in the reference.",
    "missed": "A mark that no detection found, or only one that came too late or covers too little of it.",
    "false": "Seen where nothing is marked.",
    "fragment": "A further detection within a mark that was found: the state dropped out.",
}
_EVENT_COLUMNS: Final = (
    "state", "where", "outcome", "mark_start_s", "mark_end_s", "detected_start_s", "detected_end_s",
    "onset_latency_ms", "offset_latency_ms",
    "proposed_by_itself", "sure_pct", "beside", "note",
)  # fmt: skip


@dataclass(frozen=True)
class _Wrong:
    """An event that went wrong, and in which log."""

    log: CheckedLog
    kind: str
    event: Event

    @property
    def line(self) -> str:
        return f"{self.log.sheet.name}: {event_line(self.event)}"


def event_groups(session: CheckSession, plug_ins: PlugIns) -> list[EventGroup]:
    """What went wrong, each event in the first group it belongs to, drawn as long as there is room."""
    wrong = list(_wrong(session))
    room = dict.fromkeys([id(one) for one in sorted(wrong, key=lambda one: list(GROUPS).index(one.kind))][:MOST_DRAWN])
    drawn = {key: picture for log in session.logs for key, picture in _drawn(log, [o for o in wrong if id(o) in room], session, plug_ins)}
    groups = []
    for kind, meaning in GROUPS.items():
        mine = [one for one in wrong if one.kind == kind]
        if mine:
            pictures = tuple(drawn[id(one)] for one in mine if id(one) in drawn)
            others = tuple(one.line for one in mine if id(one) not in drawn)
            groups.append(EventGroup(kind, meaning, len(mine), pictures, others))
    return groups


def _wrong(session: CheckSession) -> Iterator[_Wrong]:
    changed = session.comparison.of("", "lost", "new false") if session.comparison else []
    kinds = {(one.log, one.event): one.kind for one in changed}
    for log in session.logs:
        for event in log.result.outcomes("missed", "false", "fragment"):
            yield _Wrong(log, kinds.get((log.sheet.name, event), event.outcome), event)


def _drawn(log: CheckedLog, wrong: Iterable[_Wrong], session: CheckSession, plug_ins: PlugIns) -> Iterator[tuple[int, Picture]]:
    """Pictures of one log's events, out of one pass over its trace."""
    mine = [one for one in wrong if one.log is log]
    if not mine:
        return
    marks = log.result.outcomes("found", "missed")
    wanted = [Wanted(one.event, one.kind, _under(one), tuple(_near(one.event, marks))) for one in mine]
    for one, moment in zip(mine, moments_of(log.trace, wanted, session.calibration, plug_ins), strict=True):
        yield id(one), Picture("", png_bytes(draw_event(moment)), one.line)


def _near(event: Event, marks: Iterable[Event]) -> Iterator[Event]:
    """Other marks of the same state that a picture of the event would show."""
    for mark in marks:
        if mark.state == event.state and mark is not event and touches(AROUND, event, mark):
            yield mark


def touches(around: float, event: Event, mark: Event) -> bool:
    """Whether a mark lies within so much of an event. [s]"""
    return mark.mark_start < event.end + around and event.start - around < mark.mark_end


def _under(one: _Wrong) -> str:
    event = one.event
    lasts = milliseconds(event.end - event.start)
    beside = f"; marked then: {', '.join(event.beside)}" if event.beside else ""
    return f"{one.log.sheet.name}, {lasts} long{beside}" + (f"; {event.note}" if event.note else "")


def events_table(session: CheckSession) -> str:
    """Every event of every log as CSV."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("log", *_EVENT_COLUMNS))
    for log in session.logs:
        for event in log.result.events:
            times = (event.mark_start, event.mark_end, event.detected_start, event.detected_end)
            late = (1e3 * event.onset_latency, 1e3 * event.offset_latency)
            told = (event.state, event.where, event.outcome)
            beside = ("yes" if event.own else "no", f"{100 * event.sure:g}", " ".join(event.beside), event.note)
            rest = (*(_cell(value, 6) for value in times), *(_cell(value, 3) for value in late))
            writer.writerow([log.sheet.name, *told, *rest, *beside])
    return text.getvalue()


def _cell(value: float, digits: int) -> str:
    return "" if value != value else f"{value:.{digits}f}"  # noqa: PLR0124 - only what is not a number differs from itself

"""A detector check in words: lines and rows for the terminal and the page."""

from __future__ import annotations

from math import isnan
from typing import Final

from dualduty.trial.check_session import CheckSession
from dualduty.trial.checked_log import CheckedLog
from replay.check.comparison import KINDS, Changed, Comparison, StateComparison
from replay.check.resampling import Between
from replay.check.result import CheckResult, Event, StateResult
from replay.check.touchdown import by_air_time
from replay.marks.timing_uncertainty import timing_uncertainty

NONE: Final = "-"
MOST_NAMED: Final = 20  # missed or late events told one by one
MOST_FALSE: Final = 5  # false ones of a state
MOST_NOTICED: Final = 4
MOST_CHANGED: Final = 5  # marks that changed in a way that costs nothing, or little
_MOST_OF: Final = {"lost": 10_000, "new false": MOST_NAMED}  # what is lost is always told mark by mark
MOST_APART: Final = 10  # lines on what can't be compared
FIGURES: Final = (
    "state", "found, 95 % interval", "precision", "F1", "offset median", "p90", "fragments", "merged", "toggles per min", "shortest stay",
    "time in state",
)  # fmt: skip


def figure_rows(session: CheckSession) -> list[tuple[str, ...]]:
    """What the table of found and missed leaves out, per state, in the order of FIGURES."""
    return [_figures(session.over_all.of(state), session) for state in session.judged]


def _figures(one: StateResult, session: CheckSession) -> tuple[str, ...]:
    sure = session.confidence[one.state]
    return (
        one.state, f"{percent(one.recall)}, {between(sure.recall)}" if one.found + one.missed else NONE, percent(one.precision),
        percent(one.f1), milliseconds(one.offset[0], signed=True), milliseconds(one.offset[1], signed=True), str(one.fragments),
        str(one.merges), number(one.toggles_per_minute), milliseconds(one.shortest_stay), percent(one.time_error, signed=True),
    )  # fmt: skip


def lines_below(session: CheckSession) -> list[str]:
    """What else there is to say over all logs, only where there is something."""
    return [
        *timing_lines(session), *margin_lines(session.over_all), *false_lines(session), *own_lines(session.over_all),
        *cross_lines(session.over_all),
    ]  # fmt: skip


def timing_lines(session: CheckSession) -> list[str]:
    """How far off a latency may be by the rate of the slowest log alone."""
    rates = [log.rate for log in session.logs if log.rate > 0]
    tick = session.over_all.tick
    if not rates or not tick > 0:
        return []
    return [f"timing: signals at {min(rates):.3g} Hz, ticks of {1e3 * tick:.3g} ms: {timing_uncertainty(min(rates), tick).line}"]


def margin_lines(result: CheckResult) -> list[str]:
    """How long before touchdown flights were seen, by air time."""
    return [
        f"margin before touchdown, flights of {one.label}: {len(one.margins)} of {one.marks} found"
        + (f", {milliseconds(one.median)} median, {milliseconds(one.least)} at least" if one.margins else "")
        for one in by_air_time(result)
    ]


def false_lines(session: CheckSession) -> list[str]:
    """How many false ones there may be in truth, where any was seen."""
    rates = ((one, session.confidence[one.state].false_per_minute) for one in session.over_all.states if one.false)
    return [
        f"{one.state}: {number(one.false_per_minute)} false per minute, 95 % interval {number(low)} to {number(high)}"
        for one, (low, high) in rates
    ]


def own_lines(result: CheckResult) -> list[str]:
    """Marks that the detector proposed itself."""
    return [
        f"{one.state}: {one.own_found} of {one.own_found + one.own_missed} marks found that the detector proposed itself; counted apart"
        for one in result.states
        if one.own_found + one.own_missed
    ]


def cross_lines(result: CheckResult) -> list[str]:
    """False ones beside marks of another state."""
    return [f"{one.state}: {one.cross} of {one.false} false while another state was marked" for one in result.states if one.cross]


def comparison_lines(comparison: Comparison) -> list[str]:
    """What changed against the reference: each event by name, then what can't be compared."""
    paired = sum(one.paired for one in comparison.states)
    lines = [f"against the reference of {comparison.against}: {paired} marks in both"]
    for kind in KINDS:
        these = [one for one in comparison.changed if one.kind == kind]
        most = _MOST_OF.get(kind, MOST_CHANGED)
        kept = these if len(these) <= most + 1 else these[:most]
        lines += [f"  {changed_line(one)}" for one in kept]
        lines += [f"  {kind}: {len(these) - len(kept)} more"] if len(these) > len(kept) else []
    lines += [] if comparison.changed else ["  nothing lost, gained, false or slower"]
    lines += [f"  {line}" for one in comparison.states for line in state_lines(one)]
    lines += [f"  not compared: {line}" for line in comparison.apart[:MOST_APART]]
    more = len(comparison.apart) - MOST_APART
    return lines + ([f"  not compared: {more} more"] if more > 0 else [])


def changed_line(one: Changed) -> str:
    """One changed event in words."""
    said = f"{one.kind}: {one.log}: {one.event.name}"
    later = f"; {milliseconds(one.slower)} later than in the reference" if one.kind == "slower" else ""
    return f"{said} {one.event.note}".rstrip() + later


def state_lines(one: StateComparison) -> list[str]:
    """Chance of such a change by luck, the median change of latency, and toggles that grew."""
    lines = []
    if one.lost + one.gained:
        lines.append(f"{one.state}: {one.lost} lost and {one.gained} gained of {one.paired}; by chance alone: p = {one.p_value:.2g}")
    if abs(one.latency_change) > 0.0:
        low, high = (milliseconds(value, signed=True) for value in one.latency_between)
        change = milliseconds(one.latency_change, signed=True)
        lines.append(f"{one.state}: onset moved by {change} (median, 95 % interval {low} to {high})")
    if one.toggles_grew:
        lines.append(f"{one.state}: {number(one.toggles_now)} toggles per minute, were {number(one.toggles_before)}")
    return lines


def event_line(event: Event) -> str:
    """One event that is not as it should be, in words."""
    start = event.detected_start if event.outcome != "missed" else event.mark_start
    beside = f"beside {', '.join(event.beside)} " if event.beside else ""
    return f"{event.outcome}: {event.state} {event.where} at {start:.2f} s {beside}{event.note}".rstrip()


def event_lines(result: CheckResult) -> list[str]:
    """What is not as it should be, missed and late ones first: they are never hidden by the false ones of a state that nobody marked."""
    late = result.outcomes("late")
    wrong = [_missed_line(event, late) for event in result.outcomes("missed")] + [event_line(event) for event in late]
    lines = wrong[:MOST_NAMED] + ([f"missed or late: {len(wrong) - MOST_NAMED} more"] if len(wrong) > MOST_NAMED else [])
    for one in result.states:
        false = [event for event in result.outcomes("false") if event.state == one.state]
        kept = false if len(false) <= MOST_FALSE + 1 else false[:MOST_FALSE]
        lines += [event_line(event) for event in kept]
        lines += [f"false: {one.state}, {len(false) - len(kept)} more"] if len(false) > len(kept) else []
    return lines


def _missed_line(missed: Event, late: list[Event]) -> str:
    """A missed mark; a detection that came too late for it is told with it and taken from `late`."""
    its = [one for one in late if (one.state, one.where) == (missed.state, missed.where) and missed.start <= one.start <= missed.end]
    if not its:
        return event_line(missed)
    late.remove(its[0])
    begin, end = f" at {missed.start:.2f} s", f"seen {milliseconds(its[0].start - missed.start)} late"
    return event_line(missed).replace(begin, f"{begin}, {end}", 1)


def unmarked_lines(log: CheckedLog) -> list[str]:
    """States of which nobody marked one, and of which some were seen: false ones, if anybody looked for them."""
    names = [one.state for one in log.result.states if one.false and not one.found + one.missed + one.own_found + one.own_missed]
    marked = [one.state for one in log.result.states if one.found + one.missed]
    if not names or not marked:
        return []
    said = ", ".join(f'"{name}"' for name in marked)
    return [f"nobody marked {' or '.join(names)} here, so each one seen counts as false; marked = [{said}] in the run file leaves them out"]


def noticed_lines(log: CheckedLog) -> list[str]:
    """The first few of what was noticed about the recording."""
    lines = [line for line in log.notice_lines() if not line.startswith("stamp: ")]  # they are counted in one line as well
    kept = lines if len(lines) <= MOST_NOTICED + 1 else lines[:MOST_NOTICED]
    more = len(lines) - len(kept)
    return [*kept, *([f"{more} more; dualduty keep {log.sheet.name} tells what each does"] if more else [])]


def between(interval: Between) -> str:
    """An interval of shares."""
    low, high = interval
    return NONE if isnan(low) else f"{100 * low:.3g} to {100 * high:.3g} %"


def percent(share: float, *, signed: bool = False) -> str:
    """A share in percent."""
    return NONE if isnan(share) else f"{100 * share:+.3g} %" if signed else f"{100 * share:.3g} %"


def milliseconds(seconds: float, *, signed: bool = False) -> str:
    """A time in whole milliseconds."""
    return NONE if isnan(seconds) else f"{1e3 * seconds:+.0f} ms" if signed else f"{1e3 * seconds:.0f} ms"


def number(value: float) -> str:
    """A number with two digits that count."""
    return NONE if isnan(value) else f"{value:.2g}"

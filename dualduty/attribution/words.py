"""A moment in words: ``rear-left rebound 72 %: landing since 0.14 s, above body hold 31 %``, and what else one should know."""

from __future__ import annotations

from typing import Final

from dualduty.attribution.moment import Ask, Lasting, Moment
from dualduty.report.words import MINUS, say_number
from dualduty.signals import CORNER_LABELS

LEAST_MOVED: Final = 0.0025  # a quarter of a per cent of duty, from which a layer is said to decide
FULL: Final = 0.995
TEN: Final = 10.0  # s: from here on tenths
BY: Final = {
    "limit": "cut by the command limits",
    "slew": "held back by the slew limit",
    "fault": "replaced by the fallback of a sensor fault",
    "heat": "lowered for a hot damper",
}
ASIDE: Final = {"map clamp": "a wanted force lies outside the damper map"}


def say_duty(duty: float) -> str:
    """A duty or a share in per cent, two digits that count, tenths at most."""
    return f"{say_number(round(100.0 * duty, 1), 2)} %"


def say_seconds(seconds: float) -> str:
    """A length of time."""
    return f"{seconds:.2f} s" if seconds < TEN else f"{seconds:.1f} s"


def headline(told: Moment) -> str:
    """The moment in one sentence."""
    decided = told.decided
    text = f"{CORNER_LABELS[told.corner]} {told.side} {say_duty(told.duty)}: {decided.name} {_since(decided)}"
    if told.fallback:
        return f"{CORNER_LABELS[told.corner]} {told.side} {say_duty(told.duty)}: fallback in place of {decided.name}"
    if told.ask.share < FULL:
        text += f", {say_duty(told.ask.share)} open"
    if told.beneath is not None:
        text += f", {'capping' if told.ask.act == 'cap' else 'above'} {told.beneath[0]} {say_duty(told.beneath[1])}"
    return text


def details(told: Moment) -> list[str]:
    """What else is true of the moment, a sentence each, the most telling first."""
    lost = [f"{loss.channel} lost, not believed since {say_seconds(loss.seconds)}: closes {', '.join(loss.closes)}" for loss in told.losses]
    return [*_supervisor(told), *lost, *_gate(told), *_trims(told), *told.suspicious]


def sentences(told: Moment) -> list[str]:
    """Headline and details."""
    return [headline(told), *details(told)]


def _supervisor(told: Moment) -> list[str]:
    moved = [BY.get(label, f"changed by: {label}") for label in told.supervisor if label not in ASIDE]
    found = []
    if moved and abs(told.duty - told.stack) > LEAST_MOVED:
        found.append(f"the layers ask {say_duty(told.stack)}, {' and '.join(moved)}")
    return found + [ASIDE[label] for label in told.supervisor if label in ASIDE]


def _gate(told: Moment) -> list[str]:
    if told.opened:
        return [f"opened by {' and '.join(_state(state) for state in told.opened)}"]
    if told.ended is not None:
        ended = f"{told.ended.name.replace('_', ' ')} ended {say_seconds(told.ended.seconds)} ago"
        return [f"no state opens it any more: {ended}, it fades out"]
    return []


def _state(state: Lasting) -> str:
    return f"{state.name.replace('_', ' ')} {_since(state)}"


def _since(lasting: Lasting) -> str:
    if lasting.whole:
        return "from the start"
    return f"since {say_seconds(lasting.seconds)}" if lasting.seconds > 0.0 else "from this tick on"


def _trims(told: Moment) -> list[str]:
    return [f"{layer} {f'adds {say_duty(moved)}' if moved > 0 else f'takes {say_duty(-moved)} off'}" for layer, moved in told.trims]


def ask_row(ask: Ask) -> tuple[str, str, str, str]:
    """What one layer did, for a table: how it acts, how far it was open, what it asked for, what stood after it."""
    return ask.act, say_duty(ask.share), "leaves it" if ask.asked is None else say_duty(ask.asked), say_duty(ask.after)


def parting(one: Moment, other: Moment, name: str) -> list[str]:
    """Where two calibrations part at the same moment; `name` is the other's."""
    ours, theirs = ({ask.layer: ask for ask in told.asks} for told in (one, other))
    found = [f"{layer} is in this calibration only" for layer in ours if layer not in theirs]
    found += [f"{layer} is in {name} only" for layer in theirs if layer not in ours]
    for layer in (layer for layer in ours if layer in theirs):
        found += _apart(ours[layer], theirs[layer], name)
    moved = one.duty - other.duty
    first = f"{name}: {headline(other)}; {f'difference {_signed(moved)}' if abs(moved) > LEAST_MOVED else 'the same duty'}"
    return [first, *(found or ["no layer is open to another extent or asks for another duty"])]


def _apart(one: Ask, other: Ask, name: str) -> list[str]:
    """What is different about one layer that acts on either side."""
    if one.share == 0.0 and other.share == 0.0:
        return []
    found = []
    if abs(one.share - other.share) > 1.0 - FULL:
        found.append(f"is {say_duty(one.share)} open, {name} {say_duty(other.share)}")
    wanted = [one.asked, other.asked]
    if None in wanted and wanted[0] != wanted[1]:
        found.append(f"{ask_row(one)[2]}, {name} {ask_row(other)[2]}")
    elif one.asked is not None and other.asked is not None and abs(one.asked - other.asked) > LEAST_MOVED:
        found.append(f"asks {say_duty(one.asked)}, {name} {say_duty(other.asked)}")
    return [f"{one.layer} {' and '.join(found)}"] if found else []


def _signed(duty: float) -> str:
    return f"{'+' if duty >= 0 else MINUS}{say_duty(abs(duty))}"


def source_words(source: str, stamp: str, driven_by: str) -> str:
    """How far what is shown may be trusted."""
    if source == "simulated":
        return f"simulated; plant against a vehicle: {stamp}"
    return f"from a log; only states and commands are this calibration's{': driven by ' + driven_by if driven_by else ''}"

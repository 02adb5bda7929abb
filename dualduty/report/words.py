"""Plain sentences and numbers as people say them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from numbers import Real
from typing import Any, Final

from dualduty.scoring.scorecard import VERDICTS
from dualduty.signals import SIGNALS
from dualduty.units import UNITS, from_si

Row = Mapping[str, Any]

MINUS: Final = "\N{MINUS SIGN}"
NOTHING: Final = "\N{EN DASH}"
LARGEST_PLAIN: Final = 1_000_000  # from here on with an exponent
SMALLEST_PLAIN: Final = 1e-4  # below, with an exponent
LEAST_CHANGE: Final = 0.05  # %: less is said as none
WHOLE_CHANGE: Final = 9.95  # %: from here on without decimals
COUNTED: Final = ("better", "worse", "changed", "same", "can't tell", "not comparable")


def is_number(value: Any) -> bool:
    """Whether there is a finite number to say."""
    return not isinstance(value, bool) and isinstance(value, Real) and math.isfinite(value)


def say_number(value: Any, digits: int = 3) -> str:
    """A number with sensible digits: three that count, no exponent up to a million, counts whole; text as it is."""
    if is_number(value):
        return _signed(_digits(value, digits))
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return NOTHING
    if isinstance(value, bool):
        return "yes" if value else "no"
    return _signed(str(value).replace("inf", "∞")) if isinstance(value, float) else str(value)


def _digits(value: float, digits: int) -> str:
    if value == int(value) and abs(value) < LARGEST_PLAIN:
        return f"{int(value)}"
    size = math.floor(math.log10(abs(value)))
    if SMALLEST_PLAIN <= abs(value) < LARGEST_PLAIN:
        text = f"{value:.{max(digits - 1 - size, 0)}f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    return f"{value:.{digits - 1}e}"


def _signed(text: str) -> str:
    text = text.replace("-", MINUS)
    return text.lstrip(MINUS) if set(text) <= set(f"{MINUS}0.") else text


def say_unit(said: str) -> str:
    """Label of a unit that may come as its token: ``km_h`` is ``km/h``."""
    return UNITS[said].label if said in UNITS else said


def say(value: Any, said: str, digits: int = 3) -> str:
    """A value, already in the unit people say, with that unit."""
    number, said = say_number(value, digits), say_unit(said)
    return number if said in ("", "1") or not is_number(value) else f"{number} {said}"


def say_signal(name: str, value: float, digits: int = 3) -> str:
    """A signal's SI value in the unit people say: ``say_signal("shaft_travel", 0.123)`` is ``123 mm``."""
    said = SIGNALS[name].said
    return say(from_si(value, said), said, digits)


def say_change(percent: Any) -> str:
    """A change with its sign: ``+12 %``; a dash where there is none to say."""
    if not is_number(percent):
        return NOTHING
    if abs(percent) < LEAST_CHANGE:
        return "0 %"
    text = f"{abs(percent):.0f}" if abs(percent) >= WHOLE_CHANGE else f"{abs(percent):.1f}"
    return f"{MINUS if percent < 0 else '+'}{text} %"


def say_case(row: Row) -> str:
    """One scorecard row in a few words: ``roll angle 4.1 deg, was 3.2 deg (+28 %)``."""
    said = str(row.get("unit", ""))
    told = f"{say_measure(row)} {say(row.get('candidate'), said)}, was {say(row.get('baseline'), said)}"
    change = row.get("change_pct")
    return f"{told} ({say_change(change)})" if is_number(change) else told


def badness(row: Row) -> tuple[int, float]:
    """Sort key, worst first: verdict, then size of the change against the noise band, else in per cent."""
    verdict = str(row.get("verdict", ""))
    rank = VERDICTS.index(verdict) if verdict in VERDICTS else len(VERDICTS)
    return rank, -_weight(row)


def _weight(row: Row) -> float:
    band, before, after = row.get("band"), row.get("baseline"), row.get("candidate")
    if is_number(band) and is_number(before) and is_number(after) and band > 0:  # type: ignore[operator]
        return abs(float(after) - float(before)) / float(band)  # type: ignore[arg-type]
    change = row.get("change_pct")
    return abs(float(change)) / 100.0 if is_number(change) else 0.0  # type: ignore[arg-type]


def worst_first(rows: Iterable[Row]) -> list[Row]:
    """Rows in the order in which they should be read."""
    return sorted(rows, key=badness)


def of_verdict(rows: Iterable[Row], verdict: str) -> list[Row]:
    """Rows of one verdict, largest first."""
    return worst_first(row for row in rows if row.get("verdict") == verdict)


def count_sentence(rows: Sequence[Row]) -> str:
    """How many cells came out how: ``126 cells compared: 9 better, 4 worse, 13 same, 100 identical to the bit.``"""
    if not rows:
        return "Nothing was compared."
    counts = {verdict: sum(row.get("verdict") == verdict for row in rows) for verdict in COUNTED}
    alike = sum(row.get("verdict") == "identical" for row in rows)
    parts = [f"{counts[verdict]} {verdict}" for verdict in COUNTED if counts[verdict]]
    told = ", ".join([*parts, *([f"{alike} identical to the bit"] if alike else [])])
    return f"{len(rows)} cells compared: {told}." if len(rows) != 1 else f"1 cell compared: {told}."


def headline(rows: Sequence[Row], most: int = 3) -> list[str]:
    """Sentences, what got worse first: ``dash: worse on rough corner: roll angle 4.1 deg, was 3.2 deg (+28 %).``"""
    sentences = [count_sentence(rows)]
    if rows and not any(row.get("verdict") == "worse" for row in rows):
        sentences.append("Nothing got worse beyond the noise band.")
    for verdict in ("worse", "better"):
        for mode in dict.fromkeys(str(row["mode"]) for row in rows):
            found = of_verdict((row for row in rows if row["mode"] == mode), verdict)
            if found:
                sentences.append(_of_mode(mode, verdict, found, most))
    return sentences


def _of_mode(mode: str, verdict: str, rows: Sequence[Row], most: int) -> str:
    """The largest change in full, the other sections by name."""
    first = say_section(rows[0])
    here = [row for row in rows if say_section(row) == first]
    more = f" and {len(here) - 1} more" if len(here) > 1 else ""
    others = [name for name in dict.fromkeys(map(say_section, rows)) if name != first]
    named = ", ".join(others[:most]) + (f" and {len(others) - most} more" if len(others) > most else "")
    return f"{mode}: {verdict} on {first}: {say_case(rows[0])}{more}" + (f"; also on {named}." if others else ".")


def say_section(row: Row) -> str:
    """Name of a section as one says it: without underscores."""
    return str(row["section"]).replace("_", " ")


def say_measure(row: Row) -> str:
    """Label of a measure; its name where the row has no label."""
    return str(row.get("label") or row["measure"])


def remark(row: Row) -> str:
    """What else a row has to say: corner, reason, and how many more runs would tell."""
    runs = row.get("more_runs")
    more = f"{runs} more {'run' if runs == 1 else 'runs'}" if runs and row.get("verdict") == "can't tell" else ""
    return "; ".join(str(part) for part in (row.get("corner"), row.get("reason"), more) if part)

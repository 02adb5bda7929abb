"""Plain sentences and numbers as people say them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from dualduty.signals import SIGNALS
from dualduty.units import UNITS, from_si

Row = Mapping[str, Any]

MINUS: Final = "−"
RANKS: Final = ("worse", "can't tell", "better", "same", "not comparable", "identical")  # worst first
COUNTED: Final = (("better", "better"), ("worse", "worse"), ("same", "same"), ("can't tell", "can't tell"), ("not comparable", "not comparable"))


def is_number(value: Any) -> bool:
    """Whether there is a finite number to say."""
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def say_number(value: Any, digits: int = 3) -> str:
    """A number with sensible digits: three that count, no exponent up to a million, counts whole; text as it is."""
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, (int, float)):
        return str(value)
    if not math.isfinite(value):
        return "–" if math.isnan(value) else (MINUS if value < 0 else "") + "∞"
    if value == int(value) and abs(value) < 1e6:
        return _signed(f"{int(value)}")
    size = math.floor(math.log10(abs(value)))
    if -4 <= size < 6:
        text = f"{value:.{max(digits - 1 - size, 0)}f}"
        return _signed(text.rstrip("0").rstrip(".") if "." in text else text)
    return _signed(f"{value:.{digits - 1}e}")


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
        return "–"
    if abs(percent) < 0.05:
        return "0 %"
    text = f"{abs(percent):.0f}" if abs(percent) >= 9.95 else f"{abs(percent):.1f}"
    return f"{MINUS if percent < 0 else '+'}{text} %"


def say_case(row: Row) -> str:
    """One scorecard row in a few words: ``roll angle 4.1 deg, was 3.2 deg (+28 %)``."""
    said = str(row.get("unit", ""))
    told = f"{row['measure']} {say(row.get('candidate'), said)}, was {say(row.get('baseline'), said)}"
    change = row.get("change_pct")
    return f"{told} ({say_change(change)})" if is_number(change) else told


def badness(row: Row) -> tuple[int, float]:
    """Sort key, worst first: verdict, then size of the change against the noise band, else in per cent."""
    verdict = str(row.get("verdict", ""))
    rank = RANKS.index(verdict) if verdict in RANKS else len(RANKS)
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
    """How many cells came out how: ``126 cells compared: 9 better, 4 worse, 113 same.``"""
    if not rows:
        return "Nothing was compared."
    counts = {verdict: sum(row.get("verdict") == verdict for row in rows) for verdict, _ in COUNTED}
    counts["same"] += sum(row.get("verdict") == "identical" for row in rows)
    told = ", ".join(f"{counts[verdict]} {word}" for verdict, word in COUNTED if counts[verdict])
    return f"{len(rows)} cells compared: {told}." if len(rows) != 1 else f"1 cell compared: {told}."


def headline(rows: Sequence[Row], most: int = 3) -> list[str]:
    """Sentences by drive mode, what got worse first: ``dash: worse on rough_corner: roll angle 4.1 deg, was ...``."""
    sentences = [count_sentence(rows)]
    for verdict in ("worse", "better"):
        for mode in dict.fromkeys(str(row["mode"]) for row in rows):
            found = of_verdict((row for row in rows if row["mode"] == mode), verdict)
            sentences += _by_section(mode, verdict, found, most)
    if rows and not any(row.get("verdict") == "worse" for row in rows):
        sentences.insert(1, "Nothing got worse beyond the noise band.")
    return sentences


def _by_section(mode: str, verdict: str, rows: Sequence[Row], most: int) -> list[str]:
    sections: dict[str, list[Row]] = {}
    for row in rows:
        sections.setdefault(str(row["section"]), []).append(row)
    told = []
    for section, found in list(sections.items())[:most]:
        more = f"; and {len(found) - 2} more" if len(found) > 2 else ""
        told.append(f"{mode}: {verdict} on {section}: {'; '.join(say_case(row) for row in found[:2])}{more}.")
    if len(sections) > most:
        told.append(f"{mode}: {verdict} on {len(sections) - most} more {'sections' if len(sections) > most + 1 else 'section'}.")
    return told

"""Keep a log, keep it but for some sections, or run again: the verdict in one line, and why."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from dualduty.trial.keep_sections import touched
from dualduty.trial.run_sheet import LogSection
from replay.health.finding import SPOILS, Finding

TOO_MUCH: Final = 0.5  # share of the log lost from which it is run again; our choice
TOLD: Final = 4  # places told one by one
SURE: Final = 0.8  # probability from which a finding may spoil


@dataclass(frozen=True)
class Verdict:
    """`line` is what to do; `keep` is False where the run must be driven again; `mendable` names what a map puts right."""

    line: str
    keep: bool
    mendable: tuple[str, ...]

    @property
    def lines(self) -> list[str]:
        """The verdict, and what it stands on."""
        return [self.line, *([f"once the map is put right: {'; '.join(self.mendable)}"] if self.mendable else [])]


def verdict(findings: Sequence[Finding], sections: Sequence[LogSection], lasts: float) -> Verdict:
    """What to do with a log of so many seconds."""
    spoiling = [found for found in findings if found.severity == SPOILS and found.sure >= SURE]
    mendable = tuple(dict.fromkeys(found.brief for found in spoiling if found.mend))
    lost = [found for found in spoiling if not found.mend]
    whole = [found for found in lost if found.whole]
    confined = [found for found in lost if not found.whole]
    away = _away(confined, sections)
    if whole:
        return Verdict(f"run again: {_joined(found.text for found in whole)}", keep=False, mendable=mendable)
    if away > TOO_MUCH * lasts:
        reasons = _joined(found.text for found in sorted(confined, key=lambda found: found.start - found.end))
        return Verdict(f"run again: {100 * away / lasts:.0f} % of the log is spoiled: {reasons}", keep=False, mendable=mendable)
    if not confined:
        return Verdict("usable", keep=True, mendable=mendable)
    return Verdict(f"usable except {_places(confined, sections)}", keep=True, mendable=mendable)


def _away(confined: Sequence[Finding], sections: Sequence[LogSection]) -> float:
    """Time that goes with spoiled sections and spoiled stretches outside them. [s]"""
    spans = [(found.start, found.end) for found in confined]
    spans += [(section.start, section.end) for found in confined for section in touched(sections, found.start, found.end)]
    total, reached = 0.0, -1.0
    for start, end in sorted(spans):
        total += max(0.0, end - max(start, reached))
        reached = max(reached, end)
    return total


def _places(confined: Sequence[Finding], sections: Sequence[LogSection]) -> str:
    """`section whoops-2: 0.8 s dropout; 31.20 to 31.70 s: 0.5 s gap`, in order of time; many are counted."""
    places: dict[str, list[str]] = {}
    for found in sorted(confined, key=lambda found: found.start):
        names = [f"section {section.name}" for section in touched(sections, found.start, found.end)]
        for name in names or [f"{found.start:.2f} to {found.end:.2f} s"]:
            places.setdefault(name, []).append(found.brief)
    told = [f"{place}: {', '.join(dict.fromkeys(briefs))}" for place, briefs in places.items()]
    kept = told if len(told) <= TOLD + 1 else told[:TOLD]
    return "; ".join(kept) + (f"; and {len(told) - TOLD} more places" if len(told) > len(kept) else "")


def _joined(texts: Iterable[str]) -> str:
    kept = list(dict.fromkeys(texts))
    return "; ".join(kept[:2]) + (f"; and {len(kept) - 2} more" if len(kept) > 2 else "")  # noqa: PLR2004 - two told

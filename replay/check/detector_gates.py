"""What a detector check must reach to pass, per state, from a small file."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from dualduty.errors import SeveralBadInputs
from replay.check.comparison import Comparison
from replay.check.detector_check import CheckResult, StateResult
from replay.check.rules import WAYS, Rule, usual_rule
from replay.check.touchdown import CLASSES, FLIGHT, air_time_label, by_air_time
from replay.toml_table import Table, load_table

_LIMITS: Final = (
    "min_recall_pct", "min_precision_pct", "max_false_per_min", "max_onset_p90_ms", "max_offset_p90_ms", "max_fragments", "max_merges",
    "max_toggles_per_min", "min_margin_ms", "no_lost", "max_new_false", "max_slower",
)  # fmt: skip
_KEYS: Final = (*_LIMITS, "match", "collar_ms", "deadline_ms", "margin_ms")


@dataclass(frozen=True)
class Limit:
    """One limit of one state: the key it has in the file, whether it is kept, and what came against what was wanted."""

    state: str
    key: str
    kept: bool
    said: str


@dataclass(frozen=True)
class Gate:
    """Limits of one state; infinite where none is set. Shares 0..1, times in s, `min_margin` by class of air time."""

    min_recall: float = 0.0
    min_precision: float = 0.0
    max_false_per_minute: float = math.inf
    max_onset_p90: float = math.inf
    max_offset_p90: float = math.inf
    max_fragments: float = math.inf
    max_merges: float = math.inf
    max_toggles_per_minute: float = math.inf
    min_margin: Mapping[str, float] = field(default_factory=dict)
    no_lost: bool = True
    max_new_false: float = math.inf
    max_slower: float = math.inf

    def failures(self, result: StateResult) -> list[str]:
        """A line for each limit that isn't kept; a figure that doesn't exist keeps none but an unset limit."""
        return [limit.said for limit in self.limits(result) if not limit.kept]

    def limits(self, result: StateResult) -> Iterator[Limit]:
        """Every limit that is set, beside what came."""
        yield from self._least(result)
        rows = (
            ("max_false_per_min", result.false_per_minute, self.max_false_per_minute, 1.0, "{} false per minute, at most {} wanted"),
            ("max_onset_p90_ms", result.onset[1], self.max_onset_p90, 1e3, "onset {} ms late (90th percentile), at most {} ms wanted"),
            ("max_offset_p90_ms", result.offset[1], self.max_offset_p90, 1e3, "offset {} ms late (90th percentile), at most {} ms wanted"),
            ("max_fragments", float(result.fragments), self.max_fragments, 1.0, "{} fragments, at most {} wanted"),
            ("max_merges", float(result.merges), self.max_merges, 1.0, "{} marks swallowed by the detection of another, at most {} wanted"),
            (
                "max_toggles_per_min",
                result.toggles_per_minute,
                self.max_toggles_per_minute,
                1.0,
                "{} toggles per minute, at most {} wanted",
            ),
        )
        for key, value, limit, scale, words in rows:
            if limit < math.inf:
                most = f"{limit * scale:g}"
                unknown = f"{key}: nothing to judge by, at most {most} wanted"
                told = unknown if math.isnan(value) else words.format(_number(value * scale), most)
                yield Limit(result.state, key, value <= limit, f"{result.state}: {told}")

    def _least(self, result: StateResult) -> Iterator[Limit]:
        for key, value, limit, words in (
            ("min_recall_pct", result.recall, self.min_recall, "found"),
            ("min_precision_pct", result.precision, self.min_precision, "precision"),
        ):
            if limit > 0:
                yield Limit(result.state, key, value >= limit, f"{result.state}: {words} {_pct(value)}, at least {_pct(limit)} wanted")

    def margins(self, result: CheckResult) -> Iterator[Limit]:
        """The least margin before touchdown of each class of air time that has a limit; a class without flights keeps it."""
        classes = {one.key: one for one in by_air_time(result)}
        for key, limit in self.min_margin.items():
            if key in classes:
                one = classes[key]
                unseen = one.marks - len(one.margins)
                seen = f"seen {_number(one.least * 1e3)} ms before touchdown at least" if one.margins else "none seen"
                told = f"{seen}{f', {unseen} not seen at all' if unseen and one.margins else ''}, {limit * 1e3:g} ms wanted"
                kept = one.least >= limit and not unseen
                yield Limit(FLIGHT, f"min_margin_ms.{key}", kept, f"{FLIGHT} {air_time_label(key)}: {told}")

    def against(self, state: str, comparison: Comparison) -> Iterator[Limit]:
        """Limits that need a reference."""
        lost, new = comparison.of(state, "lost"), comparison.of(state, "new false")
        if self.no_lost:
            told = f"{len(lost)} found in the reference and lost now" + _named([f"{one.log} {one.event.name}" for one in lost])
            yield Limit(state, "no_lost", not lost, f"{state}: {told}")
        for key, found, limit, words in (
            ("max_new_false", new, self.max_new_false, "false that the reference has not"),
            ("max_slower", comparison.of(state, "slower"), self.max_slower, "found later than in the reference by more than a tick"),
        ):
            if limit < math.inf:
                yield Limit(state, key, len(found) <= limit, f"{state}: {len(found)} {words}, at most {limit:g} wanted")


@dataclass(frozen=True)
class Gates:
    """Gates and rules by state."""

    gates: Mapping[str, Gate] = field(default_factory=dict)
    rules: Mapping[str, Rule] = field(default_factory=dict)

    def failures(self, result: CheckResult, comparison: Comparison | None = None) -> list[str]:
        """All limits that aren't kept; empty: passed. A gated state that wasn't checked fails."""
        return [limit.said for limit in self.limits(result, comparison) if not limit.kept]

    def limits(self, result: CheckResult, comparison: Comparison | None = None) -> list[Limit]:
        """Every limit that is set; beside a reference no mark may be lost, unless the file says `no_lost = false`."""
        checked = {state.state: state for state in result.states}
        limits = [Limit(name, "", False, f"{name}: not checked") for name in self.gates if name not in checked]
        for name, gate in self.gates.items():
            if name in checked:
                limits += gate.limits(checked[name])
                limits += gate.margins(result) if name == FLIGHT else ()
        for one in comparison.states if comparison else ():
            limits += self.gates.get(one.state, Gate()).against(one.state, comparison) if comparison else ()
        return limits


def read_gates(path: Path | str) -> Gates:
    """Read gates: a table per state; BadInput or SeveralBadInputs with file and key."""
    top = load_table(Path(path))
    gates, rules = {}, {}
    for table in [top.table(name) for name in top.values]:
        table.only(_KEYS)
        gates[table.name] = _gate(table)
        rules[table.name] = _rule(table)
    if top.problems:
        raise top.problems[0] if len(top.problems) == 1 else SeveralBadInputs(top.problems)
    return Gates(gates, rules)


def _gate(table: Table) -> Gate:
    return Gate(
        min_recall=table.number("min_recall_pct", 0.0, 0.0, 100.0) / 100.0,
        min_precision=table.number("min_precision_pct", 0.0, 0.0, 100.0) / 100.0,
        max_false_per_minute=_most(table, "max_false_per_min", 0.0, 1e6),
        max_onset_p90=_most(table, "max_onset_p90_ms", -1e6, 1e6) / 1e3,
        max_offset_p90=_most(table, "max_offset_p90_ms", -1e6, 1e6) / 1e3,
        max_fragments=_most(table, "max_fragments", 0.0, 1e6),
        max_merges=_most(table, "max_merges", 0.0, 1e6),
        max_toggles_per_minute=_most(table, "max_toggles_per_min", 0.0, 1e6),
        min_margin=_margins(table),
        no_lost=table.flag("no_lost") if "no_lost" in table.values else True,
        max_new_false=_most(table, "max_new_false", 0.0, 1e6),
        max_slower=_most(table, "max_slower", 0.0, 1e6),
    )


def _most(table: Table, key: str, low: float, high: float) -> float:
    return table.number(key, 0.0, low, high) if key in table.values else math.inf


def _margins(table: Table) -> dict[str, float]:
    """One number for every class of air time, or a table with some of them."""
    key = "min_margin_ms"
    if key not in table.values:
        return {}
    if table.name != FLIGHT:
        table.bad(key, f"is a limit of {FLIGHT!r} only: it counts from the onset of a flight to its touchdown")
        return {}
    if not isinstance(table.values[key], dict):
        return dict.fromkeys(CLASSES, table.number(key, 0.0, -1e5, 1e5) / 1e3)
    classes = table.table(key)
    classes.only(tuple(CLASSES))
    return {name: classes.number(name, 0.0, -1e5, 1e5) / 1e3 for name in CLASSES if name in classes.values}


def _rule(table: Table) -> Rule:
    usual = usual_rule(table.name)
    deadline = table.number("deadline_ms", 0.0, 0.0, 60e3) / 1e3 if "deadline_ms" in table.values else None
    collar = table.number("collar_ms", usual.collar * 1e3, 0.0, 60e3) / 1e3
    way = table.values.get("match", usual.match)
    if way not in WAYS:
        table.bad("match", f"expected one of {', '.join(map(repr, WAYS))}, came {way!r}")
        way = usual.match
    return Rule(collar, deadline, table.number("margin_ms", usual.margin * 1e3, 0.0, 1e3) / 1e3, way)


def _named(names: list[str], most: int = 5) -> str:
    if not names:
        return ""
    return ": " + ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")


def _number(value: float) -> str:
    return f"{value:.4g}"


def _pct(share: float) -> str:
    return f"{share * 100:.4g} %" if share == share else "nothing to judge by"  # noqa: PLR0124 - only what is not a number differs from itself

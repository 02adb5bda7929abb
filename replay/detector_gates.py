"""What a detector check must reach to pass, per state, from a small file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from dualduty.errors import SeveralBadInputs
from replay.detector_check import CheckResult, Rule, StateResult, usual_rule
from replay.toml_table import Table, load_table

_KEYS: Final = ("min_recall_pct", "max_false_per_min", "max_onset_p90_ms", "max_fragments", "collar_ms", "deadline_ms", "margin_ms")


@dataclass(frozen=True)
class Gate:
    """Limits of one state; infinite where none is set. Recall as a share, latency in s."""

    min_recall: float = 0.0
    max_false_per_minute: float = math.inf
    max_onset_p90: float = math.inf
    max_fragments: float = math.inf

    def failures(self, result: StateResult) -> list[str]:
        """A line for each limit that isn't kept; a figure that doesn't exist keeps none but an unset limit."""
        name = result.state
        lines = [
            (
                not result.recall >= self.min_recall and self.min_recall > 0,
                f"{name}: found {_pct(result.recall)}, at least {_pct(self.min_recall)} wanted",
            ),
            (
                _over(result.false_per_minute, self.max_false_per_minute),
                f"{name}: {result.false_per_minute:.3g} false per minute, at most {self.max_false_per_minute:g} wanted",
            ),
            (
                _over(result.onset[1], self.max_onset_p90),
                f"{name}: onset {_ms(result.onset[1])} late (90th percentile), at most {_ms(self.max_onset_p90)} wanted",
            ),
            (
                _over(float(result.fragments), self.max_fragments),
                f"{name}: {result.fragments} fragments, at most {self.max_fragments:g} wanted",
            ),
        ]
        return [text for failed, text in lines if failed]


@dataclass(frozen=True)
class Gates:
    """Gates and rules by state."""

    gates: Mapping[str, Gate] = field(default_factory=dict)
    rules: Mapping[str, Rule] = field(default_factory=dict)

    def failures(self, result: CheckResult) -> list[str]:
        """All limits that aren't kept; empty: passed. A gated state that wasn't checked fails."""
        checked = {state.state: state for state in result.states}
        lines = [f"{name}: not checked" for name in self.gates if name not in checked]
        return lines + [line for name, gate in self.gates.items() if name in checked for line in gate.failures(checked[name])]


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
    given = table.values
    limits = {
        "min_recall": table.number("min_recall_pct", 0.0, 0.0, 100.0) / 100.0,
        "max_false_per_minute": table.number("max_false_per_min", 0.0, 0.0, 1e6) if "max_false_per_min" in given else math.inf,
        "max_onset_p90": table.number("max_onset_p90_ms", 0.0, -1e6, 1e6) / 1e3 if "max_onset_p90_ms" in given else math.inf,
        "max_fragments": table.number("max_fragments", 0.0, 0.0, 1e6) if "max_fragments" in given else math.inf,
    }
    return Gate(**limits)


def _rule(table: Table) -> Rule:
    usual = usual_rule(table.name)
    deadline = table.number("deadline_ms", 0.0, 0.0, 60e3) / 1e3 if "deadline_ms" in table.values else None
    collar = table.number("collar_ms", usual.collar * 1e3, 0.0, 60e3) / 1e3
    return Rule(collar, deadline, table.number("margin_ms", usual.margin * 1e3, 0.0, 1e3) / 1e3)


def _over(value: float, limit: float) -> bool:
    return limit < math.inf and not value <= limit


def _pct(share: float) -> str:
    return f"{share * 100:.4g} %"


def _ms(seconds: float) -> str:
    return f"{seconds * 1e3:.4g} ms"

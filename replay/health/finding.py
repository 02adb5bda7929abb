"""What was found about a log: where, how sure, how bad, what it does to a result and what to do about it."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import Any, Final

NOTE: Final = "note"
IMPAIRS: Final = "impairs"
SPOILS: Final = "spoils"
SEVERITIES: Final = (SPOILS, IMPAIRS, NOTE)  # worst first
SUREST: Final = 0.999  # nothing is told as surer: the models behind the numbers are not that good


@dataclass(frozen=True)
class Finding:
    """One finding.

    `channel` is what people call the channel or the clock, `rows` are its rows in the log's layout. `start` and `end` are
    seconds since the log's first stamp, NaN where it concerns the whole log. `text` says what was seen, with numbers, and
    `reasons` what a conclusion from several channels stands on;
    `brief` says it in a few words for the verdict; `effect` says what can't be trusted; `remedy` what to do; `mend` is the
    line of the channel map that puts it right, empty where no map can.
    """

    kind: str
    channel: str
    start: float
    end: float
    sure: float
    severity: str
    text: str
    effect: str
    brief: str = ""
    remedy: str = ""
    mend: str = ""
    rows: tuple[int, ...] = ()
    reasons: str = ""

    @property
    def whole(self) -> bool:
        """Whether the whole log is concerned."""
        return math.isnan(self.start)

    def to_row(self) -> dict[str, Any]:
        """As a plain dict for a file; times are None where the whole log is concerned."""
        row = asdict(self)
        return row | {key: None if math.isnan(row[key]) else round(row[key], 4) for key in ("start", "end")} | {"rows": list(self.rows)}


def in_order(findings: list[Finding]) -> list[Finding]:
    """The worst first, then the surest, then by time; what concerns the whole log comes before what is confined."""
    return sorted(findings, key=lambda found: (SEVERITIES.index(found.severity), not found.whole, -found.sure, found.start))


def seconds(length: float) -> str:
    """A length as people say it: `0.8 s`, `40 ms`."""
    return f"{length:.2g} s" if 0.1 <= length < 10.0 else f"{length:.0f} s" if length >= 10.0 else f"{1e3 * length:.0f} ms"  # noqa: PLR2004 - reading

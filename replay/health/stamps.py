"""What the reading of a log had to set aside: samples stamped twice or backward, a line cut off at the end."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from replay.health.finding import IMPAIRS, NOTE, SPOILS, Finding
from replay.notice import Notice

PLACES: Final = 4  # told one by one
_IMPAIRS, _SPOILS = 0.005, 0.2  # share of samples set aside


def stamp_findings(notices: Sequence[Notice]) -> list[Finding]:
    """Findings of the notices that a pass over a log has left."""
    places = [notice.text.removesuffix("; set aside") for notice in notices if notice.kind == "stamp"]
    totals = [notice for notice in notices if notice.kind == "stamps"]
    findings = [_set_aside(total, places) for total in totals]
    if places and not totals:
        findings.append(_set_aside(Notice("stamps", "", np.nan, 0.0, f"{len(places)} samples set aside"), places))
    cut = [notice for notice in notices if notice.kind == "cut line"]
    for notice in cut:
        effect = "none but the last sample"
        findings.append(Finding("cut line", "log", np.nan, np.nan, 0.999, NOTE, notice.text, effect, "cut off", "none needed"))
    return findings


def _set_aside(total: Notice, places: Sequence[str]) -> Finding:
    where = f" ({'; '.join(places[:PLACES])}{' ...' if len(places) > PLACES else ''})" if places else ""
    share = _share(total.text)
    severity = SPOILS if share > _SPOILS else IMPAIRS if share > _IMPAIRS else NOTE
    label = f"clock of {total.channel}" if total.channel else "clock"
    effect = "the samples are left out of every replay and score"
    remedy = "none needed for a few; many mean stamps coarser than the samples, or two loggers in one file"
    return Finding("stamps", label, np.nan, np.nan, 0.999, severity, f"{label}: {total.text}{where}", effect, "stamps out of order", remedy)


def _share(text: str) -> float:
    """Share of samples from `3 of 1200 samples ...`."""
    words = text.split()
    try:
        return float(words[0]) / float(words[2])
    except (ValueError, IndexError, ZeroDivisionError):
        return 0.0

"""Made-up scorecard rows and detection rows; the numbers mean nothing."""

from __future__ import annotations

from typing import Any

MODES = ("patrol", "dash", "haul")
SECTIONS = ("whoops", "step_down_north_face", "berm_left_fast", "rough_corner", "corrugations", "kicker_and_landing", "side_slope")
MEASURES = tuple((f"measure number {index}", unit) for index, unit in enumerate(("m/s²", "mm", "1", "deg", "kN", "g") * 3))


def row(**more: Any) -> dict[str, Any]:
    """One row; what isn't named is dull."""
    base = {"section": "whoops", "mode": "dash", "measure": "roll angle", "unit": "deg", "baseline": 3.2, "candidate": 4.1,
            "change_pct": 28.1, "verdict": "worse", "band": 0.3}  # fmt: skip
    return base | more


def card() -> list[dict[str, Any]]:
    """Seven sections by eighteen measures by three modes."""
    verdicts = ("same", "same", "better", "identical", "worse", "same", "can't tell", "not comparable", "changed")
    rows: list[dict[str, Any]] = []
    for section in SECTIONS:
        for mode in MODES:
            for measure, unit in MEASURES:
                verdict = verdicts[len(rows) % len(verdicts)]
                change = {"better": -9.0, "worse": 5.0 + len(rows) / 100, "changed": 7.0, "identical": 0.0}.get(verdict, 1.0)
                rows.append(row(section=section, mode=mode, measure=measure, unit=unit, change_pct=change, verdict=verdict,
                                baseline=10.0, candidate=10.0 + change / 10, band=0.2))  # fmt: skip
    return rows


DETECTIONS: list[dict[str, Any]] = [
    {"state": "airborne", "kind": "found", "start": 7.0, "end": 7.6, "latency_ms": 40.0},
    {"state": "airborne", "kind": "missed", "start": 20.0, "end": 20.2, "latency_ms": None},
    {"state": "airborne", "kind": "found", "start": 30.0, "end": 30.5, "latency_ms": 60.0, "detected_start": 30.06, "detected_end": 30.7},
    {"state": "landing_left", "kind": "false", "start": 12.0, "end": 12.1, "latency_ms": float("nan")},
]

"""Misalignment between channels, and clocks that run apart: how much later one channel sees the same motion than another.

By cross-correlation of stretches of the slow copy; a shift that the vehicle itself makes (a body that follows its wheels) is allowed for.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from replay.health.finding import IMPAIRS, NOTE, Finding
from replay.health.motion import band, felt, filled, slope
from replay.health.slow_copy import RATE, SlowMotion
from replay.health.witnesses import Witnesses
from replay.sameness.time_offset import TimeOffset, lag_of, offset_of

Array = NDArray[np.float64]
STRETCH: Final = 10.0  # s
MOST: Final = 0.5  # s; longest shift looked for
STRETCHES: Final = 240  # of a log at most, evenly spread
MARGIN: Final = 8.0  # s either side, so that the band has settled within
NEARLY_ALL: Final = 0.9
ALIKE: Final = 0.6  # correlation from which a stretch counts
_FEW: Final = 6  # stretches, less say nothing
_FEW_DRIFT: Final = 8
DRIFT_MOVED: Final = 0.03  # s over the log, from which clocks are told to run apart


@dataclass(frozen=True)
class Pair:
    """Two views of one motion; `natural` is how much later the first is in a sound log, `allowed` how far that varies. [s]

    Measured on simulated runs of all kinds of section: medians of pairs went from `natural - allowed / 2` to `natural + allowed / 2`
    at the most.
    """

    first: str
    second: str
    signals: tuple[str, str]
    natural: float
    allowed: float


PAIRS: Final = (
    Pair("wheel speeds", "yaw gyro", ("wheel_speed", "yaw_rate"), 0.015, 0.03),
    Pair("travels", "roll gyro", ("shaft_travel", "roll_rate"), 0.035, 0.07),
    Pair("travels", "pitch gyro", ("shaft_travel", "pitch_rate"), 0.06, 0.07),
    Pair("travels", "vertical force", ("shaft_travel", "specific_force_z"), 0.055, 0.07),
)


def alignment(motion: SlowMotion, seen: Witnesses) -> list[Finding]:
    """What is told by all pairs whose channels a log has; of one clock against another the drift too."""
    findings: list[Finding] = []
    pairs = [at for at, pair in enumerate(PAIRS) if all(_whole(motion, name) for name in pair.signals)]
    for at, offset in _offsets(motion, seen, pairs).items():
        findings += _drift(motion, PAIRS[at], offset) or shift_findings(motion, PAIRS[at], offset)
    return findings


def _whole(motion: SlowMotion, name: str) -> bool:
    """Whether every corner of a signal is there, with values: two travels don't roll and pitch as four do."""
    rows = motion.channels.of(name)
    return bool(rows) and len(rows) == rows[0].signal.corners and all(np.isfinite(motion.row(row.index)).any() for row in rows)


def _views(piece: SlowMotion) -> tuple[tuple[Array, Array], ...]:
    """Both motions of every pair, in the band, over a piece of the log."""
    travels, wheels = piece.corners("shaft_travel"), piece.corners("wheel_speed")
    front_left, front_right, rear_left, rear_right = (filled(row) for row in travels)
    return (
        (band(wheels[1] + wheels[3] - wheels[0] - wheels[2]), band(piece.one("yaw_rate"))),
        (band(slope(front_right + rear_right - front_left - rear_left)), band(piece.one("roll_rate"))),
        (band(slope(front_left + front_right - rear_left - rear_right)), band(piece.one("pitch_rate"))),
        (band(front_left + front_right + rear_left + rear_right), band(felt(piece))),
    )


def _offsets(motion: SlowMotion, seen: Witnesses, pairs: list[int]) -> dict[int, TimeOffset]:
    """The shift of each pair over all stretches in which the vehicle moves; without those that have too few."""
    width, most, margin = round(STRETCH * RATE), round(MOST * RATE), round(MARGIN * RATE)
    places = np.arange(0, motion.bins - width, width // 2)
    places = places[:: max(len(places) // STRETCHES, 1)]
    found: dict[int, list[tuple[float, float, float]]] = {at: [] for at in pairs}
    for place in places.tolist() if pairs else []:
        if seen.moving[place : place + width].mean() < NEARLY_ALL:
            continue
        first = max(place - margin, 0)
        views = _views(motion.cut(first, place + width + margin))
        inner = slice(place - first, place - first + width)
        for at in pairs:
            lag, alike = _lag(views[at][0][inner], views[at][1][inner], most)
            if alike > ALIKE:
                found[at].append(((place + 0.5 * width) / RATE, lag, alike))
    return {at: offset_of(lags, len(places), 1.0 / RATE) for at, lags in found.items() if len(lags) >= _FEW}


def _lag(first: Array, second: Array, most: int) -> tuple[float, float]:
    sizes = (float(np.std(first)), float(np.std(second)))
    if not all(np.isfinite(size) and size > 0.0 for size in sizes):
        return np.nan, 0.0
    return lag_of(first[None] / sizes[0], second[None] / sizes[1], most)


def _clocks(motion: SlowMotion, pair: Pair) -> tuple[int, int]:
    """Clock of each of the two."""
    first, second = (motion.channels.clock_of(motion.channels.of(name)[0].index) for name in pair.signals)
    return first, second


def _drift(motion: SlowMotion, pair: Pair, offset: TimeOffset) -> list[Finding]:
    clocks = _clocks(motion, pair)
    moved = abs(offset.drift) * motion.bins / RATE
    if clocks[0] == clocks[1] or not offset.drifts or offset.stretches < _FEW_DRIFT or moved < max(DRIFT_MOVED, 0.5 * pair.allowed):
        return []
    low, high = sorted(1e6 * end for end in offset.drift_range)
    label = motion.channels.clock_label(clocks[0])
    text = (
        f"{label}: runs away from the {motion.channels.clock_label(clocks[1])} by {1e6 * offset.drift:+.0f} ppm "
        f"({low:+.0f} to {high:+.0f}), {1e3 * moved:.0f} ms over the log: {pair.first} against {pair.second}"
    )
    effect = f"what is put together from both is shifted, by {1e3 * moved:.0f} ms in the end: {pair.first} with everything else"
    sure = float(np.clip(1.0 - 0.05 * abs(high - low) / max(abs(low + high), 1e-9), 0.5, 0.99))
    remedy = "have the loggers share a clock, or cut the log into shorter ones"
    rows = tuple(row.index for row in motion.channels.of(pair.signals[0]))
    return [Finding("clock drift", label, np.nan, np.nan, sure, IMPAIRS, text, effect, "clocks drift apart", remedy, rows=rows)]


def shift_findings(motion: SlowMotion, pair: Pair, offset: TimeOffset) -> list[Finding]:
    """The shift of a pair, where it is beyond what a sound log has and beyond its own scatter."""
    beyond = offset.seconds - pair.natural
    apart = 0.5 * (offset.stretches + 1)  # stretches that share no sample: each overlaps the next by half
    scatter = 1.25 * offset.spread / apart**0.5  # standard error of a median of normal scatter
    if abs(beyond) < pair.allowed + 2.0 * scatter:
        return []
    late, early = (pair.first, pair.second) if beyond > 0 else (pair.second, pair.first)
    z = (abs(beyond) - 0.5 * pair.allowed) / max(scatter, 0.25 * pair.allowed)
    sure = float(np.clip(1.0 - np.exp(-0.5 * z * z), 0.5, 0.99))
    text = (
        f"{late}: {1e3 * abs(beyond):.0f} ms later than the {early} sees the same motion (± {1e3 * (scatter + 0.5 * pair.allowed):.0f} ms, "
        f"{offset.stretches} stretches, correlation {offset.alike:.2f})"
    )
    effect = "onset latencies, and every law and detector that sets one against the other"
    name = pair.signals[0] if beyond > 0 else pair.signals[1]
    severity = IMPAIRS if abs(beyond) > 2.0 * pair.allowed else NOTE
    rows_of = motion.channels.of(name)
    rows = tuple(row.index for row in rows_of)
    remedy = "nothing where the controller had them so late too; else set latency_ms in the map"
    mend = f"[signals.{name}] latency_ms = {1e3 * (rows_of[0].latency - abs(beyond)):.0f}, if it is the stamps that are late"
    brief = f"{late} {1e3 * abs(beyond):.0f} ms late"
    return [Finding("misalignment", late, np.nan, np.nan, sure, severity, text, effect, brief, remedy, mend, rows)]

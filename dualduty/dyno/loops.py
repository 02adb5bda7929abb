"""Points made from loops: position and force over time become force at the peak speed, slow rows for gas and friction, and loop width."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.signal import savgol_filter

from dualduty.dyno.points import CRAWL, Points, joined
from dualduty.dyno.sheet_file import SheetFile, place, tell_some
from dualduty.errors import BadInput

Array = NDArray[np.float64]

_FEWEST_A_CYCLE: Final = 24  # samples; fewer leave the differentiator no room between noise and bend
_WINDOW: Final = 8  # the differentiator sees an eighth of a cycle: its bias on a sine is 0.02 % at most, see the tests
_PEAK: Final = 0.97  # share of the peak speed from which samples count as the peak
_HALF: Final = (0.45, 0.55)  # share of the peak speed at which the loop width is read
_TRAVELS: Final = 5  # parts of the stroke into which a slow loop is cut
_FEWEST_IN_BRANCH: Final = 3
_NONE: Final = (math.nan, math.nan)
_UNEVEN: Final = 0.25  # of a time step
_EVEN: Final = 1.3  # longest to shortest half cycle of one test


@dataclass(frozen=True, eq=False)
class _Run:
    """Samples of one steady test: fixed duties and repeat, even steps; compression positive, ends already cut off."""

    first: int
    duties: tuple[float, float]
    repeat: float
    travel: Array
    speed: Array
    slope: Array
    force: Array
    temperature: float

    @property
    def peak(self) -> float:
        """Speed the machine reached: nearly the largest, so that one noisy sample doesn't decide. [m/s]"""
        return float(np.quantile(np.abs(self.speed), 0.98))


def points_of_loops(file: SheetFile, sign: float, problems: list[BadInput]) -> Points | None:
    """The points of a sheet of loops; None where its loops can't be used.

    Notes
    -----
    Speed is the derivative of position by local cubics (Savitzky & Golay 1964, Analytical Chemistry 36(8):1627-1639).
    Force at the peak speed is read around mid-stroke, where acceleration is nil, so the inertia of the moving parts and
    the oil's compression stay out (common practice). Loops no faster than a crawl are cut into parts of the travel instead.
    """
    told: list[BadInput] = []
    runs = []
    for rows in _runs(file):
        try:
            runs.append(_run(file, rows, sign))
        except BadInput as problem:
            told.append(problem)
    tell_some(problems, told, "bad loops")
    if told:
        return None
    parts = [part for run in runs for part in (_slow(file, run) if run.peak <= CRAWL else _peaks(file, run))]
    if not parts:
        problems.append(BadInput(file.path, "expected loops with both directions of motion, came none"))
        return None
    return joined(parts)


def _runs(file: SheetFile) -> list[NDArray[np.int64]]:
    """Rows of each run: a new one begins where a duty or the repeat changes, or time starts again."""
    columns = file.columns
    new = np.diff(columns["time"]) <= 0.0
    for name in ("compression_duty", "rebound_duty", "repeat"):
        new |= np.diff(columns[name]) != 0.0
    return [np.asarray(rows, np.int64) for rows in np.split(np.arange(file.lines.size), np.flatnonzero(new) + 1)]


def _run(file: SheetFile, rows: NDArray[np.int64], sign: float) -> _Run:
    columns = file.columns
    where = place(file.path, int(file.lines[rows[0]]))
    dt = _time_step(columns["time"][rows], where)
    travel, force = columns["travel"][rows], columns["force"][rows] * sign
    cycle = _cycle(travel, where)
    speed, slope, cut = differentiate(travel, cycle, dt)
    temperature = float(np.mean(columns["oil_temperature"][rows])) if "oil_temperature" in columns else math.nan
    duties = (round(float(columns["compression_duty"][rows[0]]), 4), round(float(columns["rebound_duty"][rows[0]]), 4))
    repeat = float(columns["repeat"][rows[0]])
    return _Run(int(rows[0]) + cut.start, duties, repeat, travel[cut], speed, slope, force[cut], temperature)


def differentiate(travel: Array, cycle: float, dt: float) -> tuple[Array, Array, slice]:
    """Speed and its slope from positions with `cycle` samples a cycle, and the samples they belong to (ends cut off).

    travel : (n,) array
        Shaft travel at even steps `dt` [s]. [m]

    Returns
    -------
    speed, slope : arrays
        [m/s], [m/s²]
    slice
        The samples left: at the ends the cubic would lean out of its window.
    """
    window = max(2 * int(cycle / _WINDOW / 2.0) + 1, 5)
    cut = slice(window // 2, travel.size - window // 2)
    speed = savgol_filter(travel, window, 3, deriv=1, delta=dt)
    slope = savgol_filter(travel, window, 3, deriv=2, delta=dt)
    return speed[cut], slope[cut], cut


def _time_step(time: Array, where: str) -> float:
    if time.size < _FEWEST_A_CYCLE:
        raise BadInput(where, f"expected a loop of {_FEWEST_A_CYCLE} samples or more, came {time.size}")
    dt = float(time[-1] - time[0]) / (time.size - 1)
    worst = float(np.abs(np.diff(time) / dt - 1.0).max())
    if worst > _UNEVEN:
        raise BadInput(where, f"expected even time steps of {dt * 1e3:.3g} ms in this loop, came one that is {worst:.0%} off")
    return dt


def _cycle(travel: Array, where: str) -> float:
    """Samples in one cycle, from the passages through mid-stroke of the loop."""
    middle = 0.5 * (travel.max() + travel.min())
    above = travel > middle
    crossings = np.flatnonzero(above[1:] != above[:-1])
    # noise about the middle crosses several times in a row; one passage is what lies further apart than a tenth of the run
    passages = crossings[np.concatenate([[True], np.diff(crossings) > max(travel.size / 400.0, 3.0)])] if crossings.size else crossings
    if passages.size < 2 or travel.size < 1.9 * (passages[1] - passages[0]):  # noqa: PLR2004 - two passages are half a cycle
        raise BadInput(where, "expected a full cycle or more in this loop, came less")
    halves = np.diff(passages)
    if halves.max() > _EVEN * halves.min() + 2.0:
        raise BadInput(
            where, f"expected one steady loop, came half cycles of {halves.min()} to {halves.max()} samples; does time start again?"
        )
    cycle = 2.0 * float(np.mean(halves))
    if cycle < _FEWEST_A_CYCLE:
        raise BadInput(where, f"expected {_FEWEST_A_CYCLE} samples a cycle or more, came {cycle:.0f}")
    return cycle


def _point(file: SheetFile, run: _Run, chosen: NDArray[np.bool_], width: tuple[float, float]) -> Points:
    """One point, the mean of the samples chosen."""
    at = np.flatnonzero(chosen)
    means = [float(np.mean(values[at])) for values in (run.speed, run.force, run.travel)]
    one = [np.array([value]) for value in (*run.duties, means[0], means[1], run.repeat, means[2], run.temperature, *width)]
    return Points(file.path, *one, line=file.lines[[run.first + int(at[at.size // 2])]])  # type: ignore[misc]


def _peaks(file: SheetFile, run: _Run) -> list[Points]:
    """A point at the peak speed of either direction."""
    found = []
    for sign in (1.0, -1.0):
        chosen = run.speed * sign > _PEAK * run.peak
        if chosen.any():
            found.append(_point(file, run, chosen, _width(run, sign)))
    return found


def _slow(file: SheetFile, run: _Run) -> list[Points]:
    """Points of a slow loop, by travel and direction; near the turning points friction hasn't built up and is left out."""
    edges = np.linspace(run.travel.min(), run.travel.max(), _TRAVELS + 1)
    part = np.clip(np.digitize(run.travel, edges) - 1, 0, _TRAVELS - 1)
    found = []
    for sign in (1.0, -1.0):
        moving = run.speed * sign > 0.5 * run.peak
        found += [_point(file, run, moving & (part == one), _NONE) for one in range(_TRAVELS) if (moving & (part == one)).sum() > 2]  # noqa: PLR2004
    return found


def _width(run: _Run, sign: float) -> tuple[float, float]:
    """Force against the motion at rising minus at falling speed [N], and the travel between them [m], at half the peak speed."""
    speed, force = run.speed * sign, run.force * sign
    half = (speed > _HALF[0] * run.peak) & (speed < _HALF[1] * run.peak)
    rising, falling = half & (run.slope * sign > 0.0), half & (run.slope * sign < 0.0)
    if rising.sum() < _FEWEST_IN_BRANCH or falling.sum() < _FEWEST_IN_BRANCH:
        return _NONE
    # the branches aren't sampled at quite the same speeds, so their common slope is fitted along with their distance
    terms = np.column_stack([np.ones(half.sum()), speed[half] / run.peak, np.where(rising[half], 0.5, -0.5)])
    found, *_ = np.linalg.lstsq(terms, force[half], rcond=None)
    return float(found[2]), float(np.mean(run.travel[rising]) - np.mean(run.travel[falling]))

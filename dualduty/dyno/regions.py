"""Where a force map leaves its corridor: contiguous ranges of tested shaft speeds, and the duties at which it does."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_STAY: Final = 0.5  # a range reaches on over neighbours beyond this share of the corridor ...
_LIKE: Final = 0.45  # ... that deviate by this share of the worst in it: a fault fades in between two tested speeds
_ALONE: Final = 2.0  # times the corridor at which one tested speed alone is enough; a single one just outside may be chance
_NEEDED: Final = 2  # neighbouring tested speeds outside, where the middle of all duties is looked at
_NEEDED_AT_ONE_DUTY: Final = 3  # the same at a single duty, where there is nothing to average
_SET: Final = 0.01  # a machine misses its set speed by about this share, common practice
_UNEVEN: Final = 0.04  # soft and firm end apart by this much are both told; our choice, about a corridor


@dataclass(frozen=True)
class Region:
    """One range outside the corridor; `size` is the middle deviation there, as a share: -0.12 is 12 % less force."""

    low_speed: float
    high_speed: float
    low_duty: float
    high_duty: float
    size: float
    soft_size: float
    firm_size: float
    every_duty: bool

    @property
    def where(self) -> str:
        """Range of speeds and duties in words."""
        speeds = f"at {say_speed(self.low_speed)} m/s"
        if self.high_speed > self.low_speed:
            speeds = f"from {say_speed(self.low_speed)} to {say_speed(self.high_speed)} m/s"
        return f"{speeds}, {self._duties}"

    @property
    def _duties(self) -> str:
        if not self.every_duty:
            ends = f"{self.low_duty:.0%}".replace("%", " %")
            if self.high_duty > self.low_duty:
                ends = f"{100 * self.low_duty:.0f} to {100 * self.high_duty:.0f} %"
            return f"only at {ends} duty"
        if abs(self.soft_size - self.firm_size) > _UNEVEN:
            return f"at all duties ({say_share(self.soft_size)} at the soft end, {say_share(self.firm_size)} at the firm end)"
        return "at all duties"

    @property
    def signed(self) -> str:
        """Size with its sign: +15 %."""
        return say_share(self.size)


def say_share(share: float) -> str:
    """A share as people say a change: +15 %, -0.4 %."""
    digits = 0 if abs(share) >= 0.02 or share == 0.0 else 1  # noqa: PLR2004 - below 2 % the tenth counts
    return f"{100 * share:+.{digits}f} %"


def say_speed(speed: float) -> str:
    """A tested shaft speed as it was set: 4.491 is 4.5, 1.25 stays; at least one decimal."""
    short = float(f"{speed:.2g}")
    told = short if abs(short - speed) <= _SET * speed else float(f"{speed:.3g}")
    return f"{told:.1f}" if told == round(told, 1) else f"{told:g}"


def find_regions(speeds: Array, duties: Array, deviation: Array, width: Array) -> list[Region]:
    """Ranges in which a map deviates by more than the corridor.

    Looked at first: the middle of all duties, speed by speed. Then each duty by itself, for what only shows at one end.

    Parameters
    ----------
    speeds : (speed,) array
        Tested shaft speeds, rising. [m/s]
    duties : (duty,) array
        Duties, rising. [1]
    deviation : (speed, duty) array
        Share by which the force is higher (+) or lower (-); NaN where it isn't looked at. [1]
    width : (speed, duty) array
        Half width of the corridor, above 0. [1]

    Returns
    -------
    list of Region
        From low to high speed.
    """
    ratio = deviation / width
    found = [_region(speeds, duties, deviation, ratio, rows) for rows in _runs(_row_median(deviation), _row_median(ratio), _NEEDED)]
    taken = np.zeros(ratio.shape, bool)
    for region in found:
        rows = (speeds >= region.low_speed) & (speeds <= region.high_speed)
        taken |= rows[:, None] & (np.sign(deviation) == np.sign(region.size))
    found += _at_single_duties(speeds, duties, deviation, np.where(taken, np.nan, ratio))
    return sorted(found, key=lambda one: one.low_speed)


def _row_median(values: Array) -> Array:
    """Median over duties of what is there; NaN where there is nothing."""
    return np.array([np.median(row[np.isfinite(row)]) if np.isfinite(row).any() else np.nan for row in values])


def _runs(deviation: Array, ratio: Array, needed: int) -> Iterator[tuple[int, int]]:
    """First and last row of each contiguous range outside the corridor."""
    for sign in (1.0, -1.0):
        inside = np.r_[False, sign * ratio > _STAY, False].astype(int)
        for start, stop in zip(np.flatnonzero(np.diff(inside) == 1), np.flatnonzero(np.diff(inside) == -1), strict=True):
            part = sign * ratio[start:stop]
            if (part > 1.0).sum() >= needed or (needed == _NEEDED and part.max() > _ALONE):
                alike = np.flatnonzero((part > 1.0) | (sign * deviation[start:stop] > _LIKE * np.max(sign * deviation[start:stop])))
                yield int(start + alike[0]), int(start + alike[-1])


def _region(speeds: Array, duties: Array, deviation: Array, ratio: Array, rows: tuple[int, int]) -> Region:
    """The range with the duties that carry it."""
    relative = ratio[rows[0] : rows[1] + 1]
    carrying = np.flatnonzero(np.sign(np.nanmedian(relative)) * _row_median(relative.T) > _STAY)
    columns = carrying if carrying.size else np.arange(duties.size)
    return _at_columns(speeds, duties, deviation, rows, (int(columns[0]), int(columns[-1])))


def _at_columns(speeds: Array, duties: Array, deviation: Array, rows: tuple[int, int], columns: tuple[int, int]) -> Region:
    part = deviation[rows[0] : rows[1] + 1, columns[0] : columns[1] + 1]
    looked_at = np.flatnonzero(np.isfinite(deviation[rows[0] : rows[1] + 1]).any(axis=0))
    by_duty = _row_median(part.T)
    told = by_duty[np.isfinite(by_duty)]
    return Region(
        float(speeds[rows[0]]), float(speeds[rows[1]]), float(duties[columns[0]]), float(duties[columns[1]]), float(np.nanmedian(part)),
        float(told[0]), float(told[-1]), every_duty=columns == (0, duties.size - 1) or columns == (int(looked_at[0]), int(looked_at[-1])),
    )  # fmt: skip


def _at_single_duties(speeds: Array, duties: Array, deviation: Array, ratio: Array) -> Iterator[Region]:
    """Ranges at single duties; neighbouring duties with overlapping ranges of one sign are one."""
    groups: list[list[_Run]] = []
    for column in range(duties.size):
        for first, last in _runs(deviation[:, column], ratio[:, column], _NEEDED_AT_ONE_DUTY):
            run = _Run(column, first, last, float(np.sign(ratio[first, column])))
            near = [group for group in groups if run.continues(group[-1])]
            if near:
                near[0].append(run)
            else:
                groups.append([run])
    for group in groups:
        rows = (min(run.first for run in group), max(run.last for run in group))
        yield _at_columns(speeds, duties, deviation, rows, (group[0].column, group[-1].column))


class _Run(NamedTuple):
    """A range of rows at one duty."""

    column: int
    first: int
    last: int
    sign: float

    def continues(self, earlier: _Run) -> bool:
        """Whether it goes on from the duty before, with the same sign."""
        return self.column - earlier.column == 1 and self.sign == earlier.sign and earlier.first <= self.last and self.first <= earlier.last

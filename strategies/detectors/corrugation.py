"""Corrugation: the washboard, told by wheels that do now what they did one wavelength and two wavelengths ago."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.band_cell import band, band_of
from dualduty.cells import cell, trigger
from dualduty.contract import state
from dualduty.each_tick import each_tick, ticks
from dualduty.parameters import param

Array = NDArray[np.float64]

STEP: Final = 0.006  # s between samples that are compared: seven of them make a wave of 24 Hz
LONGEST: Final = 28  # samples, the longest wave looked for: 6 Hz
KEPT: Final = 2 * LONGEST + 2  # two such waves
_RIGHT: Final = 2 * KEPT + 1
_LIKE: Final = 4 * KEPT + 1


@cell(rows=5 * KEPT + 1)
def echo(s: Array, at: int, left: float, right: float, reach: tuple[float, float, float]) -> float:
    """How alike the movement of both wheels is to itself one wave and two waves ago: 1 for a sine, about 0 for noise, at the best wave.

    `reach` is the share by which the means move, and the shortest and longest wave to look for, in samples. Samples are
    written twice, `KEPT` apart, so that those of any age lie in a row from the newest on.
    """
    share, shortest, longest = reach
    newest = (int(s[at]) + KEPT - 1) % KEPT
    s[at] = float(newest)
    lefts, rights = at + 1 + newest, at + _RIGHT + newest
    s[lefts] = s[lefts + KEPT] = left
    s[rights] = s[rights + KEPT] = right
    for lag in range(KEPT):
        like = left * s[lefts + lag] + right * s[rights + lag]
        s[at + _LIKE + lag] += share * (like - s[at + _LIKE + lag])
    best = 0.0
    for lag in range(max(int(shortest), 2), min(int(longest), LONGEST) + 1):
        twice = at + _LIKE + 2 * lag
        best = max(best, min(s[at + _LIKE + lag], max(s[twice - 1], s[twice], s[twice + 1])))
    return float(best / max(s[at + _LIKE], 1e-9))


@each_tick
@dataclass(frozen=True)
class Corrugation:
    """Open while both front wheels move at hop frequencies, strongly for the speed, and repeat themselves with a washboard's wavelength.

    Repeat: the movement now is correlated with that one wave ago and two waves ago, over the last half second or so; the smaller of
    the two counts. A wheel that random ground shakes at hop repeats itself once, poorly, and has forgotten by the second time.
    Wavelength: speed times the wave's length in time. Strongly: shaft speed over motion ratio, as a share of the vehicle speed, which
    is the r.m.s. slope of the ground that a wheel follows.

    Both sides are taken for themselves, so that one may lag. What is felt in flight and just after does not count. Where a front
    sensor is lost the rear one of that side stands in. A wheel out of balance repeats itself too, but with the tyre's circumference, above
    `longest`. Speed that changes by more than a tenth within the window blurs the wave.

    Notes
    -----
    Amplitudes up to a few cm, wavelengths of several tens of cm, above some 8 km/h: Matsuyama et al., Proc. R. Soc. A 476:20200323, 2020.
    8 to 25 Hz at 30 to 60 km/h: frequency is speed over wavelength. Waves of 6 to 24 Hz are looked for.
    """

    lowest_hz: float = param(9.0, "Hz", 2.0, 20.0, "lower end of the band that is listened to")
    highest_hz: float = param(24.0, "Hz", 5.0, 60.0, "upper end of that band")
    on_slope: float = param(0.03, "1", 0.002, 0.5, "r.m.s. slope that the wheels' movement amounts to, from which it opens")
    off_slope: float = param(0.02, "1", 0.001, 0.5, "r.m.s. slope below which it closes")
    on_alike: float = param(0.65, "1", 0.1, 1.0, "correlation with one and two waves ago from which it opens", said="pct")
    off_alike: float = param(0.35, "1", 0.0, 1.0, "correlation below which it closes", said="pct")
    shortest: float = param(0.3, "m", 0.1, 2.0, "shortest wavelength", said="mm")
    longest: float = param(1.4, "m", 0.3, 4.0, "longest wavelength", said="mm")
    window: float = param(0.8, "s", 0.1, 5.0, "time over which slope and correlation are averaged")
    slowest: float = param(2.5, "m/s", 0.5, 10.0, "speed below which nothing is told", said="km/h")
    on_delay: float = param(0.1, "s", 0.0, 3.0, "how long all must hold", said="ms")
    off_delay: float = param(0.2, "s", 0.0, 3.0, "how long something must not hold", said="ms")
    stays: float = param(0.3, "s", 0.0, 3.0, "shortest time open", said="ms")
    motion_ratio: float = param(0.6, "1", 0.2, 1.5, "shaft travel per wheel travel", by_corner=True, from_car="motion_ratio")

    ordered = (("lowest_hz", "highest_hz"), ("off_slope", "on_slope"), ("off_alike", "on_alike"), ("shortest", "longest"))
    gives = (state("corrugation", "the wheels repeat themselves over a washboard"),)
    does_without = ("shaft_travel",)

    def prepared(self, dt: float) -> dict[str, Any]:
        """Filter, samples, shares of the means, whole ticks."""
        warp, width = band_of(self.lowest_hz, self.highest_hz, dt)
        every = max(round(STEP / dt), 1)
        return {
            "warp": warp,
            "width": width,
            "every": float(every),
            "sample": every * dt,
            "average": -np.expm1(-2.0 * dt / np.asarray(self.window)),
            "average_sample": -np.expm1(-2.0 * every * dt / np.asarray(self.window)),
            "on_ticks": ticks(self.on_delay, dt),
            "off_ticks": ticks(self.off_delay, dt),
            "stay_ticks": ticks(self.stays, dt),
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """One tick: how strongly both front wheels move, and how well they repeat themselves."""
        speed = abs(now.vehicle_speed)
        told = speed >= self.slowest and max(now.airborne_likely, now.airborne, now.landing) <= 0.0
        square = 0.0
        left = 0.0
        right = 0.0
        for side in range(2):
            corner = side if now.shaft_travel_valid[side] > 0.0 else side + 2
            once = band(memory.once[side], now.shaft_speed[corner] / self.motion_ratio[corner], self.warp, self.width)
            right = band(memory.twice[side], once, self.warp, self.width)
            left = right if side == 0 else left
            square += 0.5 * right * right
        if told:
            memory.square += self.average * (square / (speed * speed) - memory.square)
        memory.waited += 1.0
        if memory.waited >= self.every:
            memory.waited = 0.0
            wave = max(speed, self.slowest) * self.sample  # m per sample
            share = self.average_sample if told else 0.0
            memory.alike = echo(memory.echo, left, right, (share, math.ceil(self.shortest / wave), math.floor(self.longest / wave)))
        slope = math.sqrt(memory.square)
        keeps = speed >= self.slowest and slope >= self.off_slope and memory.alike >= self.off_alike
        opens = keeps and slope >= self.on_slope and memory.alike >= self.on_alike
        level = 1.0 if opens else 0.5 if keeps else 0.0
        out.corrugation = trigger(memory.washboard, level, 1.0, 0.5, self.on_ticks, self.off_ticks, self.stay_ticks)
        out.corrugation_strength = min(slope / (2.0 * self.on_slope), 1.0)

"""Corrugation: the washboard, told by wheels that beat evenly, with a wavelength that washboards have."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.cells import cell, trigger
from dualduty.contract import state
from dualduty.each_tick import each_tick, ticks
from dualduty.parameters import param
from strategies.band_cell import band, band_of

Array = NDArray[np.float64]


@cell(rows=3)
def beat(s: Array, at: int, wheel: float, told: float, patience: float) -> float:
    """Ticks from one upward crossing of zero to the next, at the tick at which it ends; else 0, and -1 where none has come for too long.

    What was under way while nothing could be told (`told` 0) is no beat.
    """
    last = s[at]
    s[at] = wheel
    s[at + 1] += 1.0
    length = 0.0
    if last < 0.0 <= wheel:
        since_zero = wheel / (wheel - last)  # of a tick
        length = (s[at + 1] - since_zero) * s[at + 2]
        s[at + 1] = since_zero
        s[at + 2] = 1.0
    if s[at + 1] > patience:
        length = -1.0
    s[at + 2] = s[at + 2] if told > 0.0 and length >= 0.0 else 0.0
    return float(length)


@cell(rows=1)
def usual_beat(s: Array, at: int, length: float, by_beat: float) -> float:
    """Mean of the recent beats, as `beat` gives them; 0 before the first. [ticks]"""
    if length < 0.0:
        s[at] = 0.0
    elif length > 0.0:
        s[at] += (by_beat if s[at] > 0.0 else 1.0) * (length - s[at])
    return float(s[at])


@cell(rows=2)
def beat_scatter(s: Array, at: int, length: float, usual: float, by_beat: float, unknown: float) -> float:
    """Mean distance of the recent beats from the usual one, as a share of it; `unknown` where there were none. [1]"""
    if length < 0.0 or s[at] == 0.0:
        s[at] = 1.0
        s[at + 1] = unknown
    if length > 0.0:
        s[at + 1] += by_beat * (min(abs(length - usual) / usual, 1.0) - s[at + 1])
    return float(s[at + 1])


@each_tick
@dataclass(frozen=True)
class Corrugation:
    """Open while both front wheels beat at hop frequencies, strongly for the speed, evenly, and with the wavelength of a washboard.

    Evenly: from one upward crossing of zero to the next the time hardly changes. Random ground shakes a wheel at hop too, but there one
    beat is some 10 to 30 % longer than the next. Wavelength: speed times the mean beat. Strongly: shaft speed over motion ratio,
    as a share of the vehicle speed, which is the r.m.s. slope of the washboard a wheel follows.

    Beats during flight and just after do not count. Sides are told apart, so that one side may lag. Where a front sensor is lost the
    rear one of that side stands in. A wheel out of balance beats evenly too: its wavelength is the tyre's circumference, above `longest`.

    Notes
    -----
    Amplitudes up to a few cm, wavelengths of several tens of cm, above some 8 km/h: Matsuyama et al., Proc. R. Soc. A 476:20200323, 2020.
    8 to 25 Hz at 30 to 60 km/h: frequency is speed over wavelength.
    """

    lowest_hz: float = param(6.0, "Hz", 2.0, 20.0, "lower end of the band in which beats are counted")
    highest_hz: float = param(22.0, "Hz", 5.0, 60.0, "upper end of that band")
    on_slope: float = param(0.035, "1", 0.002, 0.5, "r.m.s. slope that the wheels' movement amounts to, from which it opens")
    off_slope: float = param(0.02, "1", 0.001, 0.5, "r.m.s. slope below which it closes")
    on_scatter: float = param(0.05, "1", 0.005, 0.5, "mean change from beat to beat, over the beat, below which it opens", said="pct")
    off_scatter: float = param(0.14, "1", 0.02, 0.9, "mean change from which it closes", said="pct")
    shortest: float = param(0.3, "m", 0.1, 2.0, "shortest wavelength", said="mm")
    longest: float = param(1.6, "m", 0.3, 4.0, "longest wavelength", said="mm")
    beats: float = param(3.0, "1", 1.0, 30.0, "over how many beats scatter and length are averaged")
    window: float = param(0.3, "s", 0.05, 3.0, "time over which the slope is averaged")
    slowest: float = param(2.5, "m/s", 0.5, 10.0, "speed below which nothing is counted", said="km/h")
    on_delay: float = param(0.08, "s", 0.0, 3.0, "how long all must hold", said="ms")
    off_delay: float = param(0.25, "s", 0.0, 3.0, "how long something must not hold", said="ms")
    stays: float = param(0.3, "s", 0.0, 3.0, "shortest time open", said="ms")
    motion_ratio: float = param(0.6, "1", 0.2, 1.5, "shaft travel per wheel travel", by_corner=True, from_car="motion_ratio")

    ordered = (("lowest_hz", "highest_hz"), ("off_slope", "on_slope"), ("on_scatter", "off_scatter"), ("shortest", "longest"))
    gives = (state("corrugation", "the wheels beat evenly over a washboard"),)
    does_without = ("shaft_travel",)

    def prepared(self, dt: float) -> dict[str, Any]:
        """Filter, shares of the means, whole ticks."""
        warp, width = band_of(self.lowest_hz, self.highest_hz, dt)
        return {
            "warp": warp,
            "width": width,
            "average": -np.expm1(-2.0 * dt / np.asarray(self.window)),
            "by_beat": 1.0 / np.asarray(self.beats),
            "unknown": 2.3 * np.asarray(self.off_scatter),  # before there are two beats
            "on_ticks": ticks(self.on_delay, dt),
            "off_ticks": ticks(self.off_delay, dt),
            "stay_ticks": ticks(self.stays, dt),
            "patience": 2.5 / (np.asarray(self.lowest_hz) * dt),
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """One tick: beats of both front wheels, and whether they are a washboard's."""
        speed = abs(now.vehicle_speed)
        told = speed >= self.slowest and max(now.airborne_likely, now.airborne, now.landing) <= 0.0
        square = 0.0
        scatter = 0.0
        shortest = 1e9
        longest = 0.0
        for side in range(2):
            corner = side if now.shaft_travel_valid[side] > 0.0 else side + 2
            once = band(memory.once[side], now.shaft_speed[corner] / self.motion_ratio[corner], self.warp, self.width)
            wheel = band(memory.twice[side], once, self.warp, self.width)
            square += 0.5 * wheel * wheel
            length = beat(memory.zero[side], wheel, 1.0 if told else 0.0, self.patience)
            mean = usual_beat(memory.usual[side], length, self.by_beat)
            scatter = max(scatter, beat_scatter(memory.uneven[side], length, mean, self.by_beat, self.unknown))
            shortest = min(shortest, mean)
            longest = max(longest, mean)
        if told:
            memory.square += self.average * (square / (speed * speed) - memory.square)
        metres = speed * now.dt  # per tick
        slope = math.sqrt(memory.square)
        fits = speed >= self.slowest and shortest * metres >= self.shortest and longest * metres <= self.longest
        keeps = fits and slope >= self.off_slope and scatter <= self.off_scatter
        opens = keeps and slope >= self.on_slope and scatter <= self.on_scatter
        level = 1.0 if opens else 0.5 if keeps else 0.0
        out.corrugation = trigger(memory.washboard, level, 1.0, 0.5, self.on_ticks, self.off_ticks, self.stay_ticks)
        out.corrugation_strength = min(slope / (2.0 * self.on_slope), 1.0)

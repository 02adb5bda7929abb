"""Smooth and rough ground, from how much the front wheels move in two bands, whatever the speed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.band_cell import band, band_of, noise_width
from dualduty.cells import trigger
from dualduty.contract import state
from dualduty.each_tick import each_tick, ticks
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class GroundBands:
    """`smooth_ground` and `rough_ground` by the density of ISO 8608 that the movement of the front wheels amounts to.

    Random ground whose density is Gd(n0)·(n/n0)^-2 moves a wheel that follows it with a vertical speed of density (2·pi·n0)^2·Gd(n0)·v
    per Hz, alike at all frequencies: mean square speed in a band, over speed and width, says Gd(n0) at any speed. Between body and
    wheel hop the shaft moves as the wheel does, and a little more (`wheel_gain`); there rough is told. Smooth must be quiet at hop too.

    What counts is not the mean of the last second but how many of its moments were lively, or calm: a stone, a ledge or an edge
    is a lively moment and not yet rough ground, nor does it make a smooth track rough. In the air, just after and at a crawl nothing is
    known of the ground: measures wait. At a crawl both states are shut. The front wheels speak, since they meet the ground first
    and the rear ones only repeat it; where a front sensor is lost, the rear one of that side stands in.

    Notes
    -----
    Bands of 3 to 8 and 8 to 20 Hz, windows of 0.5 to 2 s, hysteresis of 20 to 30 %: common practice, from memory. Firm damping quiets the
    shafts: the same ground then reads lower (dividing by speed, and that damping biases: Shock and Vibration 2018, 5131434,
    abstract). Levels are limits of classes of ISO 8608: B to C at 128, C to D at 512 (1e-6 m^3). Not for telling a corrugation from
    rough ground: see `Corrugation`.
    """

    rough: float = param(512e-6, "m³", 1e-6, 0.1, "density from which a moment is lively", said="cm3")
    smooth: float = param(128e-6, "m³", 1e-6, 0.1, "density up to which a moment is calm", said="cm3")
    rough_on: float = param(0.7, "1", 0.1, 1.0, "share of lively moments from which ground is rough", said="pct")
    rough_off: float = param(0.4, "1", 0.0, 1.0, "share of lively moments below which it no longer is", said="pct")
    smooth_on: float = param(0.85, "1", 0.1, 1.0, "share of calm moments from which ground is smooth", said="pct")
    smooth_off: float = param(0.7, "1", 0.0, 1.0, "share of calm moments below which it no longer is", said="pct")
    cap: float = param(2.5, "1", 1.0, 100.0, "most that one instant counts, as a multiple of `rough`: a blow must not echo")
    wheel_gain: float = param(1.6, "1", 0.3, 5.0, "mean square of the wheels' movement in the middle band over that of the ground")
    balance: float = param(0.35, "1", 0.0, 5.0, "least share of the hop band's density in the middle band for rough: a washboard has less")
    middle_from: float = param(3.0, "Hz", 1.0, 10.0, "lower end of the band between body and hop")
    middle_to: float = param(8.0, "Hz", 2.0, 20.0, "upper end of that band, lower end of the hop band")
    hop_to: float = param(20.0, "Hz", 4.0, 60.0, "upper end of the hop band")
    moment: float = param(0.15, "s", 0.03, 1.0, "length of a moment: the mean square is taken over it", said="ms")
    window: float = param(1.0, "s", 0.2, 5.0, "over how long moments are counted")
    slowest: float = param(2.0, "m/s", 0.5, 10.0, "speed below which nothing is known of the ground", said="km/h")
    rough_after: float = param(0.05, "s", 0.0, 5.0, "how long ground must be rough", said="ms")
    smooth_after: float = param(0.1, "s", 0.0, 5.0, "how long ground must be smooth", said="ms")
    off_delay: float = param(0.2, "s", 0.0, 5.0, "how long it must no longer be", said="ms")
    stays: float = param(0.3, "s", 0.0, 5.0, "shortest time a state lasts", said="ms")
    motion_ratio: float = param(0.6, "1", 0.2, 1.5, "shaft travel per wheel travel", by_corner=True, from_car="motion_ratio")

    ordered = (
        ("smooth", "rough"),
        ("rough_off", "rough_on"),
        ("smooth_off", "smooth_on"),
        ("middle_from", "middle_to"),
        ("middle_to", "hop_to"),
    )
    gives = (
        state("smooth_ground", "the ground moves the wheels little for this speed"),
        state("rough_ground", "the ground moves the wheels much for this speed, without a rhythm of its own at hop"),
    )
    does_without = ("shaft_travel",)

    def prepared(self, dt: float) -> dict[str, Any]:
        """Filters, the share of the mean, densities per mean square, whole ticks."""
        n0 = 2.0 * np.pi * 0.1  # rad/m, the reference of ISO 8608 times 2 pi
        middle_warp, middle_width = band_of(self.middle_from, self.middle_to, dt)
        hop_warp, hop_width = band_of(self.middle_to, self.hop_to, dt)
        return {
            "middle_warp": middle_warp,
            "middle_width": middle_width,
            "hop_warp": hop_warp,
            "hop_width": hop_width,
            "briefly": -np.expm1(-2.0 * dt / np.asarray(self.moment)),
            "lately": -np.expm1(-2.0 * dt / np.asarray(self.window)),
            "middle_scale": 1.0 / (n0**2 * noise_width(self.middle_from, self.middle_to) * self.wheel_gain),
            "hop_scale": 1.0 / (n0**2 * noise_width(self.middle_to, self.hop_to)),
            "most": np.asarray(self.cap) * self.rough,
            "rough_ticks": ticks(self.rough_after, dt),
            "smooth_ticks": ticks(self.smooth_after, dt),
            "off_ticks": ticks(self.off_delay, dt),
            "stay_ticks": ticks(self.stays, dt),
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """One tick: densities of both bands, and what they are called."""
        speed = abs(now.vehicle_speed)
        told = speed >= self.slowest and max(now.airborne_likely, now.airborne, now.landing) <= 0.0
        middle = 0.0
        hop = 0.0
        for side in range(2):
            corner = side if now.shaft_travel_valid[side] > 0.0 else side + 2
            wheel = now.shaft_speed[corner] / self.motion_ratio[corner]
            once = band(memory.middle_once[side], wheel, self.middle_warp, self.middle_width)
            slow = band(memory.middle_twice[side], once, self.middle_warp, self.middle_width)
            first = band(memory.hop_once[side], wheel, self.hop_warp, self.hop_width)
            quick = band(memory.hop_twice[side], first, self.hop_warp, self.hop_width)
            middle += 0.5 * slow * slow
            hop += 0.5 * quick * quick
        if told:
            middle *= self.middle_scale / speed
            hop *= self.hop_scale / speed
            memory.middle += self.briefly * (min(middle, self.most) - memory.middle)
            memory.hop += self.briefly * (min(hop, self.most) - memory.hop)
            memory.balance += self.briefly * ((middle - self.balance * hop) - memory.balance)
            lively = memory.middle >= self.rough and memory.balance >= 0.0
            calm = memory.middle <= self.smooth and memory.hop <= self.smooth
            memory.lively += self.lately * ((1.0 if lively else 0.0) - memory.lively)
            memory.calm += self.lately * ((1.0 if calm else 0.0) - memory.calm)
        moving = 1.0 if speed >= self.slowest else 0.0
        lively_share, calm_share = moving * memory.lively, moving * memory.calm
        out.rough_ground = trigger(
            memory.rough, lively_share, self.rough_on, self.rough_off, self.rough_ticks, self.off_ticks, self.stay_ticks
        )
        out.rough_ground_strength = moving * memory.middle / self.most
        out.smooth_ground = trigger(
            memory.smooth, calm_share, self.smooth_on, self.smooth_off, self.smooth_ticks, self.off_ticks, self.stay_ticks
        )
        out.smooth_ground_strength = calm_share

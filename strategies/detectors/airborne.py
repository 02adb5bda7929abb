"""Airborne in two stages, by what the ground still carries: a fast, reversible pre-arm, and a confirmation; and which wheels are off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from dualduty.cells import low_pass, trigger
from dualduty.contract import state
from dualduty.each_tick import each_tick, share, ticks
from dualduty.kernels import inline
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY

LOSS: Final = -2.0  # evidence goes at most twice as fast as weightlessness brings it
GAIN: Final = 1.5  # noise below nothing carried counts a little, so that it evens out


@each_tick
@dataclass(frozen=True)
class Airborne:
    """`airborne_likely` and `airborne` by evidence that the ground carries nothing; `wheel_off` the same of each wheel.

    What the ground carries follows from Newton's law without springs, dampers or maps: all masses times the specific force each feels,
    the body's f_z and, of a wheel, that plus the second derivative of its travel. In flight it is nothing from the first moment, while
    the body, pushed by its springs, feels half its weight fall away over 40 to 60 ms and the shafts take 100 to 200 ms to hang.

    A level that noise crosses either way is no decision. So evidence is gathered, in seconds of weightlessness: a tick with nothing
    carried counts in full, one at the threshold not at all, one above it takes away. This is the cumulative sum of quickest detection.
    Washboard and whoops unload all four wheels for less than `sure_evidence`; over a brow the ground carries a few percent for long,
    and there the shafts come out slowly: evidence then counts `slow_worth`. A car on its side or roof is carried too: by what it feels
    sideways, or by a force that points down.

    A wheel is off by its own `tyre_force`. With a travel sensor lost, its axle's other one speaks for it; then wheels count as off by
    the whole vehicle's share, or where their shaft hangs. Not for a car on a lift, which carries it.

    Notes
    -----
    carried = (m_s f_z + sum m_u (f_z + travel'' / ratio)) / (m g); both parts through the same two lags, about 16 ms in all.

    References
    ----------
    Cumulative sum: E. S. Page, "Continuous inspection schemes", Biometrika 41, 1954. The thresholds are measured on the bench's own
    plant (car 2, payload, worn sensors; 32 sections, three seeds): no vehicle was driven for them.
    """

    smooth_hz: float = param(20.0, "Hz", 5.0, 60.0, "corner frequency of the two lags of what the ground carries")
    likely_share: float = param(0.25, "1", 0.05, 0.9, "share of the weight carried below which wheels may be off", said="pct")
    sure_share: float = param(0.08, "1", 0.02, 0.6, "share of the weight carried below which the confirmation gathers evidence", said="pct")
    sure_off_share: float = param(0.2, "1", 0.03, 1.0, "share of the weight carried above which the confirmation ends", said="pct")
    off_share: float = param(0.4, "1", 0.05, 1.0, "share of the weight carried above which the ground is back", said="pct")
    likely_evidence: float = param(0.01, "s", 0.0, 0.3, "weightlessness that opens the pre-arm", said="ms")
    sure_evidence: float = param(0.034, "s", 0.0, 0.5, "weightlessness that confirms", said="ms")
    off_after: float = param(0.008, "s", 0.0, 0.3, "how long the ground must be back", said="ms")
    extends_fast: float = param(0.3, "m/s", 0.0, 2.0, "mean speed of the shafts coming out below which evidence counts less")
    slow_worth: float = param(0.4, "1", 0.0, 1.0, "what evidence counts while they come out more slowly", said="pct")
    wheel_share: float = param(0.25, "1", 0.02, 0.9, "share of its static load below which a wheel may be off", said="pct")
    wheel_evidence: float = param(0.032, "s", 0.0, 0.5, "weightlessness of a wheel that says it is off", said="ms")
    hang_margin: float = param(0.02, "m", 0.002, 0.2, "distance from free hang that counts as hanging, with a travel lost", said="mm")
    hang_travel: float = param(0.02, "m", -0.02, 0.4, "shaft travel at free hang", said="mm", by_corner=True, from_car="hang_travel")
    static_load: float = param(2300.0, "N", 100.0, 50000.0, "wheel load standing", by_corner=True, from_car="static_wheel_load")
    sprung_mass: float = param(800.0, "kg", 50.0, 10000.0, "sprung mass, laden", from_car="sprung_mass")
    unsprung_mass: float = param(38.0, "kg", 5.0, 300.0, "unsprung mass", by_corner=True, from_car="unsprung_mass")
    motion_ratio: float = param(0.6, "1", 0.2, 1.5, "shaft travel per wheel travel", by_corner=True, from_car="motion_ratio")

    ordered = (
        ("sure_share", "likely_share"),
        ("likely_share", "off_share"),
        ("sure_share", "sure_off_share"),
        ("sure_off_share", "off_share"),
    )
    gives = (
        state("airborne_likely", "the ground carries little: wheels may have left it"),
        state("airborne", "in the air: the ground carries nothing"),
        state("wheel_off", "this wheel carries nothing", corners=4),
    )
    does_without = ("shaft_travel", "specific_force_x", "specific_force_y")

    def prepared(self, dt: float) -> dict[str, Any]:
        """Share of the lag; what a wheel's change of shaft speed counts in the sum, in g; inverse thresholds; times in ticks."""
        lag = share(self.smooth_hz, dt)
        mass = self.sprung_mass + (np.zeros((4, 1, 1)) + self.unsprung_mass).sum(axis=0, keepdims=True)
        return {
            "lag": lag,
            "counts": lag / dt / STANDARD_GRAVITY * (np.asarray(self.unsprung_mass) / self.motion_ratio / mass),
            "likely_rate": 1.0 / np.asarray(self.likely_share),
            "sure_rate": 1.0 / np.asarray(self.sure_share),
            "wheel_rate": 1.0 / np.asarray(self.wheel_share),
            "per_load": 1.0 / np.asarray(self.static_load),
            "likely_need": ticks(self.likely_evidence, dt),
            "sure_need": ticks(self.sure_evidence, dt),
            "wheel_need": ticks(self.wheel_evidence, dt),
            "off_ticks": ticks(self.off_after, dt),
            "settle_ticks": ticks(0.04, dt),  # until a sensor that came back has passed all lags
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """States of the vehicle, and of each wheel."""
        lost = 0.0
        for corner in range(4):
            memory.trust[corner] = min(memory.trust[corner] + 1.0, self.settle_ticks) if now.shaft_travel_valid[corner] > 0.5 else -1.0
            lost += 1.0 if memory.trust[corner] < self.settle_ticks else 0.0
            memory.change[corner] = now.shaft_speed[corner] - memory.lagged[corner]
            memory.lagged[corner] += self.lag * memory.change[corner]
        for corner in range(4):
            source = corner if memory.trust[corner] >= self.settle_ticks else corner + 1 - 2 * (corner % 2)
            known = 1.0 if memory.trust[source] >= self.settle_ticks else 0.0
            memory.push[corner] = known * self.counts[corner] * memory.change[source]
            memory.out[corner] = known * now.shaft_speed[source]
        hubs = (memory.push[0] + memory.push[1]) + (memory.push[2] + memory.push[3])
        felt = low_pass(memory.felt, now.specific_force_z * (1.0 / STANDARD_GRAVITY), self.lag)
        carried = low_pass(memory.carried, felt + hubs, self.lag)
        aside = max(abs(now.specific_force_x) * now.specific_force_x_valid, abs(now.specific_force_y) * now.specific_force_y_valid)
        carried = (
            max(carried, aside / STANDARD_GRAVITY) if aside > self.off_share * STANDARD_GRAVITY else max(carried, -2.0 * carried - 1.0)
        )

        extending = -0.25 * ((memory.out[0] + memory.out[1]) + (memory.out[2] + memory.out[3]))
        worth = 1.0 if extending >= self.extends_fast else self.slow_worth
        memory.doubt = gathered(memory.doubt, carried * self.likely_rate, self.likely_need, 1.0)
        memory.proof = gathered(memory.proof, carried * self.sure_rate, self.sure_need, worth)
        off, wait = self.off_share, self.off_ticks
        likely = trigger(memory.likely, verdict(memory.doubt, self.likely_need, carried, off), 1.0, 0.25, 0.0, wait, 0.0)
        sure = trigger(memory.sure, verdict(memory.proof, self.sure_need, carried, self.sure_off_share), 1.0, 0.25, 0.0, wait, 0.0)
        out.airborne_likely, out.airborne = max(likely, sure), sure
        strength = min(max(1.0 - carried / off, 0.0), 1.0)
        out.airborne_likely_strength, out.airborne_strength = strength, strength

        whole = lost < 0.5 and min(now.specific_force_x_valid, now.specific_force_y_valid) > 0.5
        for corner in range(4):
            load = now.tyre_force[corner] * self.per_load[corner] if whole else carried
            hangs = memory.trust[corner] > 0.0 and now.shaft_travel[corner] < self.hang_travel[corner] + self.hang_margin
            load = 0.0 if hangs and not whole else load
            memory.light[corner] = gathered(memory.light[corner], load * self.wheel_rate, self.wheel_need, 1.0)
            level = 1.0 if sure > 0.0 and load < off else verdict(memory.light[corner], self.wheel_need, load, off)
            out.wheel_off[corner] = trigger(memory.off[corner], level, 1.0, 0.25, 0.0, wait, 0.0)


@inline
def gathered(evidence: float, of_threshold: float, needed: float, worth: float) -> float:
    """Evidence after one more tick, in ticks of weightlessness, a little beyond what is needed at most."""
    rate = min(max(1.0 - of_threshold, LOSS), GAIN)
    if rate > 0.0:
        rate *= worth
    return float(min(max(evidence + rate, 0.0), needed + 5.0))


@inline
def verdict(evidence: float, needed: float, carried: float, off: float) -> float:
    """1 where there is enough evidence, 0.5 where there is not but the ground isn't back either, 0 where it is."""
    light = 0.5 if carried <= off else 0.0
    return 1.0 if evidence >= needed and light > 0.0 else light

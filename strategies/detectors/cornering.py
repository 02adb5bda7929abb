"""Cornering, with its side: announced by the steering wheel, confirmed by yaw rate times speed, not fooled by a bank or a side slope."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import low_pass, trigger
from dualduty.contract import state
from dualduty.each_tick import each_tick, share, ticks
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY


@each_tick
@dataclass(frozen=True)
class Cornering:
    """`cornering_likely` by the steering wheel, `cornering` by yaw rate times speed; `cornering_outer` and `_inner` say which corners.

    The steering wheel announces the steady lateral acceleration steer·v² / (wheelbase + understeer·v²), of the bicycle model, some
    0.1 s before the car answers. Yaw rate times speed confirms it: alone at `on`, or quicker and at the lower `confirm` where the
    steering wheel says the same. The sides are those of whichever opened first. A bank and a side slope turn neither of the two.

    Notes
    -----
    On at 0.2 to 0.3 g, off at 0.15 to 0.2 g, 1 to 3 Hz smoothing: common practice, from memory. Steady turn of the bicycle model: e.g.
    Mitschke and Wallentowitz, Dynamik der Kraftfahrzeuge, 2004, chapter on circular driving; from memory. When the driver steers
    against a slide, the announcement would name the wrong side: it is ignored while yaw rate times speed says the opposite. Not for
    a car with rear-wheel steering, nor for creeping at full lock: there speed is nothing and so are both signs, as they should be.
    """

    smooth_hz: float = param(3.0, "Hz", 0.3, 20.0, "corner frequency of the smoothing of yaw rate times speed")
    quick_hz: float = param(8.0, "Hz", 0.5, 40.0, "corner frequency of the quick smoothing where the steering wheel agrees")
    on: float = param(0.25 * STANDARD_GRAVITY, "m/s²", 0.3, 12.0, "lateral acceleration that opens the states", said="g")
    off: float = param(0.18 * STANDARD_GRAVITY, "m/s²", 0.2, 12.0, "lateral acceleration below which they close", said="g")
    confirm: float = param(0.18 * STANDARD_GRAVITY, "m/s²", 0.1, 12.0, "lateral acceleration that confirms what is announced", said="g")
    full: float = param(0.6 * STANDARD_GRAVITY, "m/s²", 0.5, 15.0, "lateral acceleration at full strength", said="g")
    understeer: float = param(0.002, "rad/(m/s²)", -0.02, 0.05, "steer angle per lateral acceleration beyond geometry", said="deg/g")
    wheelbase: float = param(2.4, "m", 1.0, 5.0, "wheelbase", said="mm", from_car="wheelbase")
    likely_after: float = param(0.01, "s", 0.0, 0.5, "how long the steering wheel must say so", said="ms")
    likely_off: float = param(0.06, "s", 0.0, 1.0, "how long it must say nothing for the announcement to end", said="ms")
    on_delay: float = param(0.01, "s", 0.0, 1.0, "how long lateral acceleration must be above the level to open", said="ms")
    off_delay: float = param(0.12, "s", 0.0, 2.0, "how long it must be below to close, unless the other side is announced", said="ms")
    stays: float = param(0.1, "s", 0.0, 1.0, "shortest time confirmed", said="ms")

    ordered = (("off", "on"), ("off", "full"), ("confirm", "on"))
    gives = (
        state("cornering_likely", "the steering wheel is turned for more than the set lateral acceleration"),
        state("cornering", "the vehicle turns with more than the set lateral acceleration"),
        state("cornering_outer", "this corner is on the outside of the turn", corners=4),
        state("cornering_inner", "this corner is on the inside of the turn", corners=4),
    )
    does_without = ("steer_angle", "yaw_rate")

    def prepared(self, dt: float) -> dict[str, Any]:
        """Shares and whole ticks."""
        return {
            "smooth": share(self.smooth_hz, dt),
            "quick": share(self.quick_hz, dt),
            "likely_ticks": ticks(self.likely_after, dt),
            "likely_off_ticks": ticks(self.likely_off, dt),
            "on_ticks": ticks(self.on_delay, dt),
            "off_ticks": ticks(self.off_delay, dt),
            "stay_ticks": ticks(self.stays, dt),
            "head": self.on - self.confirm,
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """One tick: what is announced, what is confirmed, on which side."""
        square = now.vehicle_speed * now.vehicle_speed
        stretch = max(self.wheelbase + self.understeer * square, 0.25 * self.wheelbase)
        steered = now.steer_angle * square / stretch
        felt = now.yaw_rate * now.vehicle_speed
        if now.yaw_rate_valid < 0.5:  # with a lost gyro the steering wheel speaks for the turn too
            felt = steered * now.steer_angle_valid
        turn = low_pass(memory.turn, felt, self.smooth)
        quick = low_pass(memory.quick, felt, self.quick)
        said = low_pass(memory.said, steered, self.quick)
        if now.steer_angle_valid <= 0.0 or (said * quick < 0.0 and abs(turn) >= self.off):
            said = 0.0
        soon_left = trigger(memory.soon_left, said, self.on, self.off, self.likely_ticks, self.likely_off_ticks, 0.0)
        soon_right = trigger(memory.soon_right, -said, self.on, self.off, self.likely_ticks, self.likely_off_ticks, 0.0)
        to_left = max(turn, quick + self.head) if soon_left > 0.0 else turn
        to_right = max(-turn, -quick + self.head) if soon_right > 0.0 else -turn
        wait_left = 0.0 if soon_right > 0.0 else self.off_ticks
        wait_right = 0.0 if soon_left > 0.0 else self.off_ticks
        left = trigger(memory.left, to_left, self.on, self.off, self.on_ticks, wait_left, self.stay_ticks)
        right = trigger(memory.right, to_right, self.on, self.off, self.on_ticks, wait_right, self.stay_ticks)
        span = max(self.full - self.off, 0.1)
        strength = min(max((abs(turn) - self.off) / span, 0.0), 1.0)
        out.cornering_likely = max(soon_left, soon_right)
        out.cornering_likely_strength = min(max((abs(said) - self.off) / span, 0.0), 1.0)
        out.cornering = max(left, right)
        out.cornering_strength = strength
        leftward = max(left, soon_left * (1.0 - right))
        rightward = max(right, soon_right * (1.0 - left))
        for corner in range(4):
            on_left = corner % 2 == 0
            out.cornering_outer[corner] = rightward if on_left else leftward
            out.cornering_inner[corner] = leftward if on_left else rightward
            out.cornering_outer_strength[corner] = strength
            out.cornering_inner_strength[corner] = strength

"""Braking: the brake demand first, deceleration as a second witness that must be borne out by the wheels, on the ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import derivative, low_pass, trigger
from dualduty.contract import state
from dualduty.each_tick import each_tick, share, ticks
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY


@each_tick
@dataclass(frozen=True)
class Braking:
    """Opened by the brake demand, or by deceleration where the demand is small (engine braking, a soft stretch).

    Deceleration alone counts only while the vehicle stands on its wheels, neither in the air nor just down (a landing throws the body
    back, and its wheels, fast from turning in the air, slow at once), and while the wheels lose speed too (a ledge pushes the body
    back, a downhill leans it, and neither slows the wheels for long).

    The strength is the larger of what the pedal asks for and what is felt, so that it is there before the car answers.

    Notes
    -----
    Demand first, 0.15 to 0.3 g, 2 to 5 Hz: common practice, from memory.
    """

    on_demand: float = param(0.08, "1", 0.01, 1.0, "brake demand that opens the state", said="pct")
    off_demand: float = param(0.04, "1", 0.0, 1.0, "brake demand below which it closes", said="pct")
    full_demand: float = param(0.8, "1", 0.05, 1.0, "brake demand at full strength", said="pct")
    on_deceleration: float = param(0.3 * STANDARD_GRAVITY, "m/s²", 0.5, 12.0, "deceleration that opens the state by itself", said="g")
    off_deceleration: float = param(0.18 * STANDARD_GRAVITY, "m/s²", 0.3, 12.0, "deceleration below which it closes", said="g")
    smooth_hz: float = param(4.0, "Hz", 0.3, 20.0, "corner frequency of the smoothing of deceleration")
    wheels_hz: float = param(2.0, "Hz", 0.3, 20.0, "corner frequency of the smoothing of the wheels' loss of speed")
    wheels_share: float = param(0.6, "1", 0.0, 1.0, "share of the felt deceleration that the wheels must show", said="pct")
    full: float = param(0.7 * STANDARD_GRAVITY, "m/s²", 0.5, 15.0, "deceleration at full strength", said="g")
    felt_for: float = param(0.12, "s", 0.0, 1.0, "how long deceleration alone must last: a ledge is shorter", said="ms")
    off_delay: float = param(0.15, "s", 0.0, 2.0, "how long both must be small to close", said="ms")
    stays: float = param(0.1, "s", 0.0, 1.0, "shortest time open", said="ms")

    ordered = (("off_demand", "on_demand"), ("off_deceleration", "on_deceleration"), ("on_demand", "full_demand"))
    gives = (state("braking", "the vehicle is being slowed"),)
    does_without = ("shaft_travel", "specific_force_x", "specific_force_y", "specific_force_z", "wheel_speed")  # the pedal remains

    def prepared(self, dt: float) -> dict[str, Any]:
        """Shares and whole ticks."""
        return {
            "smooth": share(self.smooth_hz, dt),
            "wheels": share(self.wheels_hz, dt),
            "felt_ticks": ticks(self.felt_for, dt),
            "off_ticks": ticks(self.off_delay, dt),
            "stay_ticks": ticks(self.stays, dt),
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """One tick: the pedal, and what is felt."""
        slowing = low_pass(memory.slowing, -now.specific_force_x, self.smooth)
        mean = 0.25 * ((now.wheel_speed[0] + now.wheel_speed[1]) + (now.wheel_speed[2] + now.wheel_speed[3]))
        loss = -derivative(memory.loss, mean, self.wheels, now.dt)
        sensed = now.specific_force_x_valid > 0.0 and now.specific_force_z_valid > 0.0
        aground = sensed and max(now.airborne_likely, now.airborne, now.landing) <= 0.0
        borne_out = slowing if aground and loss >= self.wheels_share * slowing else 0.0
        pedal = trigger(memory.pedal, now.brake, self.on_demand, self.off_demand, 0.0, self.off_ticks, self.stay_ticks)
        felt = trigger(
            memory.felt, borne_out, self.on_deceleration, self.off_deceleration, self.felt_ticks, self.off_ticks, self.stay_ticks
        )
        asked = now.brake / self.full_demand
        seen = slowing / self.full if aground else 0.0
        out.braking = max(pedal, felt)
        out.braking_strength = min(max(asked, seen, 0.0), 1.0)

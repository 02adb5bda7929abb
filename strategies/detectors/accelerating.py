"""Accelerating: the throttle first, felt acceleration as a second witness that must be borne out by the wheels, on the ground."""

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
class Accelerating:
    """Opened by the throttle, or by acceleration where the throttle is small (a long first gear, an electric drive).

    Acceleration alone counts only while the vehicle stands on its wheels and while these gain speed too: an uphill leans the body
    back without any. A throttle held against sand or a climb opens the state although the speed stays: the rear squats all the same.

    Notes
    -----
    Demand first, 0.15 to 0.3 g, 2 to 5 Hz: common practice, from memory. The throttle that keeps the speed on loose ground is some
    20 to 30 % of full (shipped sections): the level lies well above it.
    """

    on_demand: float = param(0.5, "1", 0.02, 1.0, "throttle that opens the state", said="pct")
    off_demand: float = param(0.35, "1", 0.0, 1.0, "throttle below which it closes", said="pct")
    full_demand: float = param(0.95, "1", 0.05, 1.0, "throttle at full strength", said="pct")
    on_acceleration: float = param(0.2 * STANDARD_GRAVITY, "m/s²", 0.5, 12.0, "acceleration that opens the state by itself", said="g")
    off_acceleration: float = param(0.12 * STANDARD_GRAVITY, "m/s²", 0.3, 12.0, "acceleration below which it closes", said="g")
    smooth_hz: float = param(3.0, "Hz", 0.3, 20.0, "corner frequency of the smoothing of acceleration")
    wheels_hz: float = param(2.0, "Hz", 0.3, 20.0, "corner frequency of the smoothing of the wheels' gain of speed")
    wheels_share: float = param(0.6, "1", 0.0, 1.0, "share of the felt acceleration that the wheels must show", said="pct")
    full: float = param(0.45 * STANDARD_GRAVITY, "m/s²", 0.5, 15.0, "acceleration at full strength", said="g")
    on_delay: float = param(0.04, "s", 0.0, 1.0, "how long the throttle must be down: a blip is shorter", said="ms")
    felt_for: float = param(0.2, "s", 0.0, 1.0, "how long acceleration alone must last: a slope that ends is shorter", said="ms")
    off_delay: float = param(0.2, "s", 0.0, 2.0, "how long both must be small to close", said="ms")
    stays: float = param(0.1, "s", 0.0, 1.0, "shortest time open", said="ms")

    ordered = (("off_demand", "on_demand"), ("off_acceleration", "on_acceleration"), ("on_demand", "full_demand"))
    gives = (state("accelerating", "the engine pushes the vehicle ahead"),)
    does_without = ("shaft_travel", "specific_force_x", "specific_force_y", "specific_force_z", "wheel_speed")  # the pedal remains

    def prepared(self, dt: float) -> dict[str, Any]:
        """Shares and whole ticks."""
        return {
            "smooth": share(self.smooth_hz, dt),
            "wheels": share(self.wheels_hz, dt),
            "on_ticks": ticks(self.on_delay, dt),
            "felt_ticks": ticks(self.felt_for, dt),
            "off_ticks": ticks(self.off_delay, dt),
            "stay_ticks": ticks(self.stays, dt),
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """One tick: the pedal, and what is felt."""
        gaining = low_pass(memory.gaining, now.specific_force_x, self.smooth)
        mean = 0.25 * ((now.wheel_speed[0] + now.wheel_speed[1]) + (now.wheel_speed[2] + now.wheel_speed[3]))
        gain = derivative(memory.gain, mean, self.wheels, now.dt)
        sensed = now.specific_force_x_valid > 0.0 and now.specific_force_z_valid > 0.0
        aground = sensed and max(now.airborne_likely, now.airborne, now.landing) <= 0.0
        borne_out = gaining if aground and gain >= self.wheels_share * gaining else 0.0
        pedal = trigger(memory.pedal, now.throttle, self.on_demand, self.off_demand, self.on_ticks, self.off_ticks, self.stay_ticks)
        felt = trigger(
            memory.felt, borne_out, self.on_acceleration, self.off_acceleration, self.felt_ticks, self.off_ticks, self.stay_ticks
        )
        asked = now.throttle / self.full_demand
        seen = gaining / self.full if aground else 0.0
        out.accelerating = max(pedal, felt)
        out.accelerating_strength = min(max(asked, seen, 0.0), 1.0)

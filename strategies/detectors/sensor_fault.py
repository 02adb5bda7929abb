"""Sensor fault: some channel of the vehicle is missing, out of range, jumping, stuck or at odds with the others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from dualduty.cells import trigger
from dualduty.contract import state
from dualduty.each_tick import each_tick, ticks
from dualduty.kernels import inline
from dualduty.parameters import param

WATCHED: Final = (
    "shaft_travel", "specific_force_x", "specific_force_y", "specific_force_z", "roll_rate", "pitch_rate", "yaw_rate", "wheel_speed",
    "steer_angle", "brake", "throttle", "driver_trim",
)  # fmt: skip


@inline
def bit(fault: float) -> int:
    """One bit for each kind of fault, so that those of all channels can be laid over each other."""
    return 1 << int(fault)


@each_tick
@dataclass(frozen=True)
class SensorFault:
    """A state for each kind of fault that the intake tells, whichever channel has it.

    For layers that should step back when sensors fail, and for the detector check over logs. What becomes of a single
    lost channel is not decided here: laws that depend on it are faded out corner by corner without any help.

    Notes
    -----
    One missing sample is none: `on_delay`. A driver's trim knob that never gave anything is taken for not fitted.
    """

    on_delay: float = param(0.02, "s", 0.0, 2.0, "how long a kind of fault must last", said="ms")
    off_delay: float = param(0.5, "s", 0.0, 10.0, "how long it must be gone", said="ms")

    gives = (
        state("sensor_missing", "a channel gives nothing"),
        state("sensor_out_of_range", "a channel gives what can't be"),
        state("sensor_jumping", "a channel moves faster than it can, or to and fro"),
        state("sensor_stuck", "a channel rests while all around it moves"),
        state("sensor_disagreeing", "a channel tells for long what the others contradict"),
    )
    does_without = WATCHED

    def prepared(self, dt: float) -> dict[str, Any]:
        """Whole ticks."""
        return {"on_ticks": ticks(self.on_delay, dt), "off_ticks": ticks(self.off_delay, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """One tick: which kinds there are, and whether they last."""
        seen = bit(now.specific_force_x_fault) | bit(now.specific_force_y_fault) | bit(now.specific_force_z_fault)
        seen |= bit(now.roll_rate_fault) | bit(now.pitch_rate_fault) | bit(now.yaw_rate_fault)
        seen |= bit(now.steer_angle_fault) | bit(now.brake_fault) | bit(now.throttle_fault)
        for corner in range(4):
            seen |= bit(now.shaft_travel_fault[corner]) | bit(now.wheel_speed_fault[corner])
        if now.driver_trim_fault == 0.0:
            memory.trim_fitted = 1.0
        if memory.trim_fitted > 0.0:
            seen |= bit(now.driver_trim_fault)
        out.sensor_missing = trigger(memory.missing, float((seen >> 1) & 1), 0.5, 0.5, self.on_ticks, self.off_ticks, 0.0)
        out.sensor_out_of_range = trigger(memory.beyond, float((seen >> 2) & 1), 0.5, 0.5, self.on_ticks, self.off_ticks, 0.0)
        out.sensor_jumping = trigger(memory.jumping, float((seen >> 3) & 1), 0.5, 0.5, self.on_ticks, self.off_ticks, 0.0)
        out.sensor_stuck = trigger(memory.stuck, float((seen >> 4) & 1), 0.5, 0.5, self.on_ticks, self.off_ticks, 0.0)
        out.sensor_disagreeing = trigger(memory.apart, float((seen >> 5) & 1), 0.5, 0.5, self.on_ticks, self.off_ticks, 0.0)
